"""Numbers as they are shown on a page: whole and fraction apart, unit small."""

from decimal import Decimal

from django import template
from django.utils.formats import get_format
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.drawing.numbers import NOTHING, shown_number

register = template.Library()


@register.simple_tag
def figure(
    value: float | Decimal | None,
    places: int = 2,
    unit: str = "",
    *,
    signed: bool = False,
) -> SafeString:
    """Write a number so that points stand under points in a ``td.number``."""
    shown = shown_number(value, places, signed=signed)
    if shown == NOTHING:
        return format_html('<span class="figure">{}</span>', NOTHING)
    point = str(get_format("DECIMAL_SEPARATOR"))
    whole, _, part = shown.partition(point)
    return format_html(
        '<span class="figure"><span class="whole">{}</span>'
        '<span class="part">{}</span>{}</span>',
        whole,
        point + part if part else "",
        format_html('<span class="unit">{}</span>', unit) if unit else "",
    )
