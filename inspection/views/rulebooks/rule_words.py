"""Rules as they are read on the rulebooks' pages."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from inspection.compute.judging import DecisionRule
from inspection.compute.quantities import QUANTITIES, Quantity
from inspection.compute.rulebooks import (
    Change,
    Difference,
    Evidence,
    Force,
    RuleText,
    Stage,
    limit_text,
)
from inspection.loaders.rulebooks.editions import LoadedRule, rule_as_text
from inspection.words.editions import change_words, classes_words, condition_words
from inspection.words.quantities import quantity_name
from inventory.words.enumerations import word_of


@dataclass(frozen=True, kw_only=True)
class RuleLine:
    """A rule in words: what it asks, of whom, when."""

    rule: RuleText
    quantity: Quantity
    limits: str
    limits_after: str
    facts: tuple[str, ...]
    pk: int | None = None


def rule_line(rule: RuleText, pk: int | None = None) -> RuleLine:
    """Put a rule in words."""
    before, after = _limits(rule, Stage.BEFORE), _limits(rule, Stage.AFTER)
    return RuleLine(
        rule=rule,
        quantity=QUANTITIES[rule.quantity],
        limits=before,
        limits_after=after if after != before else "",
        facts=tuple(_facts(rule)),
        pk=pk,
    )


def limits_at(rule: LoadedRule, stage: Stage) -> str:
    """Say what a loaded rule asks at a stage."""
    return _limits(rule_as_text(rule), stage)


@dataclass(frozen=True, kw_only=True)
class SideLine:
    """A rule in two editions: as it was, as it is, and what changed."""

    change: Change
    before: RuleLine | None
    after: RuleLine | None
    sentences: tuple[str, ...]


def side_lines(difference: Difference) -> tuple[SideLine, ...]:
    """Put the rules of two editions side by side."""
    return tuple(
        SideLine(
            change=one.change,
            before=rule_line(one.before) if one.before else None,
            after=rule_line(one.after) if one.after else None,
            sentences=tuple(change_words(part) for part in one.parts),
        )
        for one in difference.rules
    )


def _limits(rule: RuleText, stage: Stage) -> str:
    if rule.required is not None:
        return _("must be “%(word)s”") % {"word": word_of(rule.required)}
    quantity = QUANTITIES[rule.quantity]
    lower, upper = rule.limits(stage)
    shown = {
        "lower": "" if lower is None else limit_text(lower, quantity),
        "upper": "" if upper is None else limit_text(upper, quantity),
    }
    if not shown["upper"]:
        return _("at least %(lower)s") % shown
    if not shown["lower"]:
        return _("at most %(upper)s") % shown
    return _("%(lower)s to %(upper)s") % shown


def _facts(rule: RuleText) -> Iterable[str]:
    yield quantity_name(rule.quantity)
    yield classes_words(rule.classes)
    if condition := condition_words(rule):
        yield _("only for %(condition)s") % {"condition": condition}
    if rule.stage is Stage.BEFORE:
        yield _("before the race only")
    if rule.stage is Stage.AFTER:
        yield _("after the race only")
    if rule.evidence is Evidence.TAKEN_ONLY:
        yield _("taken only")
    if rule.evidence is Evidence.AT_ONCE:
        yield _("answered with the others")
    if rule.force is Force.ADVISORY:
        yield _("advisory")


def decision_rule_words(rule: DecisionRule) -> str:
    """Say who has the benefit of the doubt."""
    match rule:
        case DecisionRule.SIMPLE_ACCEPTANCE:
            return _(
                "What is inside the limit is admitted, what is outside is not; the "
                "doubt of the measurement is shared evenly."
            )
        case DecisionRule.GUARDED_ACCEPTANCE:
            return _(
                "Only what is inside by the guard band is admitted: the field has the "
                "benefit of the doubt."
            )
        case DecisionRule.GUARDED_REJECTION:
            return _(
                "Only what is outside by more than the guard band is refused: the "
                "owner has the benefit of the doubt."
            )
