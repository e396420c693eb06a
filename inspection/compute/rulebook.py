"""
A rulebook's edition as plain values: what its file says and its tables hold.

Limits are whole millionths of the quantity's unit.
"""

from dataclasses import dataclass
from decimal import Decimal

from inspection.compute.conformity import DecisionRule
from inspection.compute.requirements import Answer, Evidence, Force, Stage


@dataclass(frozen=True, kw_only=True)
class RuleText:
    """One rule of a file; limits are millionths of the quantity's unit."""

    number: str
    sentence: str
    quantity: str
    lower: int | None = None
    upper: int | None = None
    lower_after: int | None = None
    upper_after: int | None = None
    required: Answer | None = None
    force: Force = Force.MANDATORY
    stage: Stage = Stage.BOTH
    evidence: Evidence = Evidence.EITHER
    classes: tuple[str, ...] = ()
    condition_key: str = ""
    condition_word: str = ""


@dataclass(frozen=True, kw_only=True)
class RulebookText:
    """A rulebook's edition as its file says it."""

    rulebook: str
    edition: int
    decision_rule: DecisionRule
    confidence: Decimal
    note: str
    rules: tuple[RuleText, ...]
