"""Numbers as they are shown on a page: whole and fraction apart, unit small."""

from decimal import Decimal

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.compute.numbers import (
    MM_PER_INCH,
    MORE_DECIMALS,
    Unit,
    decimals_beside,
    decimals_for,
    format_u,
    format_with_u,
    round_by_u,
    round_down,
    round_up,
    written_now,
)
from inventory.drawing.numbers import (
    NOTHING,
    bare_length,
    length_unit,
    shown_length,
    shown_number,
)

register = template.Library()


@register.simple_tag
def figure(
    value: float | Decimal | None,
    places: int = 2,
    unit: str = "",
    *,
    signed: bool = False,
    beside: float | None = None,
    inwards: str = "",
) -> SafeString:
    """
    Write a number so that points stand under points in a ``td.number``.

    With ``beside`` it gets as many more digits as it takes to read above or below
    that, as it is; the least that will do goes ``inwards`` up, the most down.
    """
    way = written_now()
    if unit == Unit.MILLIMETRE and way.is_in_inches:
        value, beside = _in_inches(value), _in_inches(beside)
        places, unit = places + MORE_DECIMALS, way.lengths_in
    if value is not None and beside is not None:
        places = decimals_beside(float(value), [beside], decimals=places)
    if value is not None and inwards:
        value = _inwards(float(value), places, inwards)
    shown = shown_number(value, places, signed=signed)
    if shown == NOTHING:
        return format_html('<span class="figure">{}</span>', NOTHING)
    whole, _, part = shown.partition(way.decimal_sign)
    return format_html(
        '<span class="figure"><span class="whole">{}</span>'
        '<span class="part">{}</span>{}</span>',
        whole,
        way.decimal_sign + part if part else "",
        format_html('<span class="unit">{}</span>', unit) if unit else "",
    )


@register.filter
def number(value: float, places: int = 2) -> str:
    """Write a number within a sentence."""
    return shown_number(value, places)


@register.filter
def as_length(value: float, places: int = 2) -> str:
    """Write a length in millimetres within a sentence, with its unit."""
    return shown_length(value, places)


@register.filter
def length_up(value: float, places: int = 2) -> str:
    """Write the least length that will do, so that it still does."""
    return shown_length(value, places, inwards="up")


@register.filter
def length_down(value: float, places: int = 2) -> str:
    """Write the most length that will do, so that it still does."""
    return shown_length(value, places, inwards="down")


@register.filter
def bare(value: float, places: int = 2) -> str:
    """Write a length in millimetres where its unit stands elsewhere."""
    return bare_length(value, places)


@register.filter
def u_places(u_value: float) -> int:
    """Give the places to which a value goes beside its standard uncertainty."""
    return decimals_for(u_value, most=2 if not u_value else 6)


@register.simple_tag
def doubt(
    u_value: float | None,
    unit: str = "",
    *,
    is_bare: bool = False,
) -> SafeString | str:
    """
    Write a standard uncertainty with two significant digits; nothing for none.

    ``is_bare``: it stands beside its value, which says the unit.
    """
    if u_value is None or not format_u(u_value):
        return ""
    way = written_now()
    if unit == Unit.MILLIMETRE and way.is_in_inches:
        u_value, unit = u_value / MM_PER_INCH, way.lengths_in
    shown = round_by_u(u_value, u_value)
    return figure(shown, decimals_for(u_value), "" if is_bare else unit)


@register.simple_tag
def bare_figure(value_mm: float, places: int = 2) -> SafeString:
    """Write a length as ``figure`` does where what stands beside it says the unit."""
    if written_now().is_in_inches:
        return figure(value_mm / MM_PER_INCH, places + MORE_DECIMALS)
    return figure(value_mm, places)


@register.simple_tag(name="length_unit")
def unit_of_lengths() -> str:
    """Say the unit that lengths are read in."""
    return length_unit()


@register.filter
def rounded_up(value: float, places: int) -> float:
    """Round the least that will do, so that it still does."""
    return round_up(value, decimals=places)


@register.filter
def rounded_down(value: float, places: int) -> float:
    """Round the most that will do, so that it still does."""
    return round_down(value, decimals=places)


def _in_inches(value: float | Decimal | None) -> float | None:
    return None if value is None else float(value) / MM_PER_INCH


def _inwards(value: float, places: int, way: str) -> float:
    towards = {"up": round_up, "down": round_down}[way]
    return towards(value, decimals=places)


@register.simple_tag
def with_u(value: float, u_value: float, unit: str = Unit.ONE) -> str:
    """Write a value ± its standard uncertainty, to the place where both have sense."""
    return format_with_u(value, u_value, unit=Unit(unit))
