"""The margin strip, on every page that shows how far a value is from its limit."""

from django import template
from django.utils.safestring import SafeString, mark_safe

from inspection.compute.fit import CheckRow
from inspection.compute.rulebooks import Stage
from inspection.drawing.strips import Margin, draw_margin_strip
from inspection.loaders.block.findings import RuleFinding
from inspection.loaders.margins import (
    margin_as_moved,
    margin_of,
    margin_of_check,
    margin_of_night,
    margin_of_reason,
)
from inspection.loaders.rulebooks.editions import LoadedRule
from inspection.loaders.rulebooks.trials import Reason
from inspection.loaders.rulebooks.tried_limits import LimitTrial, MovedCar
from inspection.models import Rule

register = template.Library()


@register.simple_tag
def margin_strip(
    margin: Margin | None, words: str = "", places: int | None = None
) -> SafeString:
    """Draw a margin; with ``words`` where nothing beside it says the same."""
    if margin is None:
        return SafeString()
    strip = draw_margin_strip(margin, words=words, places=places)
    return mark_safe(strip)  # noqa: S308


@register.simple_tag
def finding_strip(
    finding: RuleFinding, *, went_under: bool | None = None, words: str = ""
) -> SafeString:
    """Draw what a rule finds of a car."""
    return margin_strip(margin_of(finding, went_under=went_under), words)


@register.simple_tag
def check_strip(
    row: CheckRow, rule: LoadedRule | None = None, *, places: int | None = None
) -> SafeString:
    """Draw a check of whether a part fits; nothing for one that has no limit."""
    return margin_strip(margin_of_check(row, rule), places=places)


@register.simple_tag
def moved_strip(tried: LimitTrial, car: MovedCar) -> SafeString:
    """Draw a car that a moved limit finds otherwise."""
    return margin_strip(margin_as_moved(tried, car))


@register.simple_tag
def reason_strip(reason: Reason, stage: Stage) -> SafeString:
    """Draw why a trial finds a car otherwise."""
    return margin_strip(margin_of_reason(reason, stage))


@register.simple_tag
def night_strip(rule: Rule, least: float) -> SafeString:
    """Draw the least margin of a night."""
    return margin_strip(margin_of_night(rule, least))
