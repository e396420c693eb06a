"""What was found, what it rests on, and where that comes from."""

import datetime as dt
from collections.abc import Iterable
from functools import lru_cache

from django import template
from django.template.loader import render_to_string
from django.utils.html import conditional_escape, format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.timezone import get_current_timezone_name
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from inspection.compute.judging import Outcome
from inspection.compute.quantities import Source
from inspection.loaders.block.findings import RuleFinding
from inspection.loaders.block.values import ColumnValue
from inventory.drawing.numbers import NOTHING
from inventory.templatetags.figures import figure

register = template.Library()

_BOUNDS = {True: "≥ ", False: "< ", None: ""}


@register.simple_tag
def found_value(
    found: RuleFinding, *, went_under: bool | None, decimals: int | None = None
) -> str:
    """
    Write what was found: a figure in the rule's unit, a yes or no, a slip's bound.

    ``decimals``: as they are recorded; without them, as many as the finding has.
    """
    if found.value is None:
        return NOTHING if found.outcome is Outcome.NOT_MEASURED else ""
    if found.rule.required:
        return _("yes") if found.value else _("no")
    shown = figure(
        found.value,
        decimals or found.value_decimals,
        found.rule.quantity.unit.symbol,
    )
    return format_html("{}{}", _BOUNDS[went_under], shown)


@register.simple_tag
def evidence(value: ColumnValue) -> SafeString:
    """Say in few words where a value comes from."""
    if value.is_in_question:
        return conditional_escape(_("in question, to be read again"))
    return _words(
        value.source,
        value.said_by,
        value.said_at,
        value.part_tag,
        get_language(),
        get_current_timezone_name(),
    )


@register.simple_tag
def resting_on(values: Iterable[ColumnValue]) -> SafeString:
    """Name values, each with where it comes from."""
    every = ((one.label, one.text, evidence(one)) for one in values)
    return format_html_join("; ", "{} {} ({})", every)


# Every rule of a page names the same few values: a dozen of them a reading.
@lru_cache(maxsize=2_000)
def _words(
    source: Source,
    said_by: str,
    said_at: dt.datetime | None,
    part_tag: str,
    language: str | None,
    zone: str,
) -> SafeString:
    del language, zone
    value = {
        "source": source,
        "said_by": said_by,
        "said_at": said_at,
        "part_tag": part_tag,
    }
    words = render_to_string("inspection/block/pieces/evidence.html", {"value": value})
    return SafeString(words.strip())
