"""How a part's sizes are written on its pages."""

from django import template

from inventory.compute.part_quantities import PART_SCALES
from inventory.compute.stock import PartQuantity
from inventory.compute.units import Unit, decimals_for, format_value
from inventory.models import PartEstimate

register = template.Library()


@register.filter
def quantity_label(word: str) -> str:
    return word.replace("_", " ").capitalize()


@register.simple_tag
def estimate_text(estimate: PartEstimate) -> str:
    """Write a value with as many places as its uncertainty has sense."""
    unit = PART_SCALES[PartQuantity(estimate.quantity)].unit
    u_value = (estimate.random**2 + estimate.systematic**2) ** 0.5 / 1e6
    places = min(decimals_for(u_value, most=2), 2)
    value = format_value(estimate.value / 1e6, decimals=places, unit=unit)
    return f"{value} ± {u_value:.{places}f}"


@register.simple_tag
def size(millionths: int, unit: str) -> str:
    """Write a gauge's figure with its unit."""
    return format_value(millionths / 1e6, decimals=3, unit=Unit(unit))
