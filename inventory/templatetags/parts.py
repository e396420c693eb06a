"""How a part's sizes are written on its pages."""

from math import hypot

from django import template
from django.utils.text import capfirst

from inventory.compute.numbers import Unit, format_value, format_with_u, from_millionths
from inventory.compute.stock import PART_SCALES
from inventory.models import PartEstimate
from inventory.words.enumerations import word_of

register = template.Library()


@register.filter
def quantity_label(word: str) -> str:
    return capfirst(word_of(word.replace("_", " ")))


@register.simple_tag
def estimate_text(estimate: PartEstimate) -> str:
    """Write a value ± its standard uncertainty, to the place where both have sense."""
    unit = PART_SCALES[estimate.quantity].unit
    u_value = from_millionths(hypot(estimate.random, estimate.systematic))
    return format_with_u(from_millionths(estimate.value), u_value, unit=unit)


@register.simple_tag
def size(millionths: int, unit: str) -> str:
    """Write a gauge's figure with its unit."""
    further = f"{abs(millionths) % 1000:03}".rstrip("0")
    return format_value(
        from_millionths(millionths), decimals=3 + len(further), unit=Unit(unit)
    )
