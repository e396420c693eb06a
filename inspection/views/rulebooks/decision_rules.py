"""The decision rules, explained with the picture of their four outcomes."""

from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe

from inspection.compute.judging import DecisionRule, judge
from inspection.compute.quantities import QUANTITIES
from inspection.compute.rulebooks import RulebookText, RuleText
from inspection.drawing.limits import RuleLimits, describe_limits, draw_limits
from inspection.loaders.rulebooks.editions import to_float
from inspection.loaders.rulebooks.shelf import usual_u
from inspection.views.rulebooks.rule_words import decision_rule_words

#: Where no rule has a limit yet; made up.
_EXAMPLE = RuleText(number="", sentence="", quantity="weight_body", lower=20_000_000)


@dataclass(frozen=True, kw_only=True)
class ExplainedRule:
    """A decision rule in words and as a picture, at a rule's own limit."""

    rule: DecisionRule
    words: str
    example: str
    picture: SafeString
    sentences: tuple[str, ...]


def _example(rules: tuple[RuleText, ...]) -> RuleText:
    """Take the first rule whose guard band is wide enough beside its limits to see."""
    limited = [one for one in rules if one.required is None]
    one_sided = [one for one in limited if one.lower is None or one.upper is None]
    return next(iter(one_sided or limited), _EXAMPLE)


def decision_rules(text: RulebookText | None = None) -> list[ExplainedRule]:
    """Explain every decision rule, with a rule of this edition."""
    return [explained(rule, text) for rule in DecisionRule]


def explained(rule: DecisionRule, text: RulebookText | None = None) -> ExplainedRule:
    """Explain a decision rule at the first limit of an edition."""
    example = _example(text.rules) if text else _EXAMPLE
    quantity = QUANTITIES[example.quantity]
    u_value = usual_u([quantity.key]).get(quantity.key) or quantity.repeatability
    lower, upper = to_float(example.lower), to_float(example.upper)
    judged = judge(
        lower if lower is not None else upper or 0.0,
        # A counted number has no doubt, and no guard band that could be drawn.
        u_value or 10.0**-quantity.decimals,
        lower=lower,
        upper=upper,
        rule=rule,
        confidence=float(text.confidence) if text else 0.95,
    )
    limits = RuleLimits(
        guard_band=judged.guard_band,
        decision_rule=rule,
        lower=lower,
        upper=upper,
        unit=quantity.unit.symbol,
        places=max(quantity.decimals, 2),
    )
    return ExplainedRule(
        rule=rule,
        words=decision_rule_words(rule),
        example=example.number,
        picture=mark_safe(draw_limits(limits)),  # noqa: S308
        sentences=tuple(describe_limits(limits)),
    )
