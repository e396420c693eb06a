"""
A rulebook's edition as plain values: what its file says and its tables hold.

Limits are whole millionths of the quantity's unit.
"""

from dataclasses import dataclass
from decimal import Decimal

from inspection.compute.judging import DecisionRule
from inspection.compute.quantities import Quantity
from inspection.compute.rulebooks.requirements import Answer, Evidence, Force, Stage
from inventory.compute.numbers import format_value, from_millionths


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

    def limits(self, stage: Stage) -> tuple[int | None, int | None]:
        """
        Give the limits that hold at a stage.

        Parameters
        ----------
        stage : Stage
            Before or after the race.

        Returns
        -------
        tuple of (int or None)
            Lower and upper; after the race the ones for then, where there are any.

        Examples
        --------
        >>> worn = RuleText(
        ...     number="1",
        ...     sentence="The rear tyres are so large, after the race less.",
        ...     quantity="tyre_diameter_rear",
        ...     lower=20_000_000,
        ...     lower_after=19_800_000,
        ... )
        >>> worn.limits(Stage.BEFORE), worn.limits(Stage.AFTER)
        ((20000000, None), (19800000, None))
        """
        if stage is not Stage.AFTER:
            return self.lower, self.upper
        return (
            self.lower if self.lower_after is None else self.lower_after,
            self.upper if self.upper_after is None else self.upper_after,
        )

    @property
    def stages(self) -> frozenset[Stage]:
        """When the rule is asked: before the race, after it, or at both."""
        if self.stage is Stage.BOTH:
            return frozenset({Stage.BEFORE, Stage.AFTER})
        return frozenset({self.stage})


@dataclass(frozen=True, kw_only=True)
class RulebookText:
    """A rulebook's edition as its file says it."""

    rulebook: str
    edition: int
    decision_rule: DecisionRule
    confidence: Decimal
    note: str
    rules: tuple[RuleText, ...]


def limit_text(millionths: int, quantity: Quantity) -> str:
    """
    Write a limit with every digit it has, and its unit.

    Parameters
    ----------
    millionths : int
        The limit, in millionths of the quantity's unit.
    quantity : Quantity
        What is limited; its own decimals are shown at least.

    Returns
    -------
    str
        With a true minus.

    Examples
    --------
    >>> from inspection.compute.quantities.registry import QUANTITIES
    >>> limit_text(1_190_625, QUANTITIES["clearance_rear"])
    '1.190625 mm'
    >>> limit_text(800_000, QUANTITIES["clearance_rear"])
    '0.80 mm'
    """
    exact = Decimal(millionths).scaleb(-6).normalize()
    digits = -int(exact.as_tuple().exponent)
    return format_value(
        from_millionths(millionths),
        decimals=max(digits, quantity.decimals),
        unit=quantity.unit,
        # As it was published: no rulebook is changed by where it is read.
        keeps_unit=True,
    )
