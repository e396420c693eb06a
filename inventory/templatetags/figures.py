"""Numbers as they are shown: true minus, whole and fraction apart, unit small."""

import math
from decimal import Decimal

from django import template
from django.utils.formats import get_format, number_format
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()

MINUS = "\N{MINUS SIGN}"
NOTHING = "\N{EN DASH}"


@register.simple_tag
def figure(
    value: float | Decimal | None,
    places: int = 2,
    unit: str = "",
    *,
    signed: bool = False,
) -> SafeString:
    """Write a number so that points stand under points in a ``td.number``."""
    if value is None or math.isnan(value):
        return format_html('<span class="figure">{}</span>', NOTHING)
    # Rounded first: -0.001 at two places is 0.00, which has no minus.
    shown = round(value, places)
    sign = MINUS if shown < 0 else "+" if signed and shown > 0 else ""
    point = str(get_format("DECIMAL_SEPARATOR"))
    whole, _, part = number_format(abs(shown), places).partition(point)
    return format_html(
        '<span class="figure"><span class="whole">{}{}</span>'
        '<span class="part">{}</span>{}</span>',
        sign,
        whole,
        point + part if part else "",
        format_html('<span class="unit">{}</span>', unit) if unit else "",
    )
