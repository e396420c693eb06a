"""How the repeats of each person with a gauge scatter."""

from django import template

from inspection.loaders.block.own_scatter import ScatterLine, scatter_lines
from inventory.models import Gauge

register = template.Library()


@register.simple_tag
def own_repeats(gauge: Gauge) -> list[ScatterLine]:
    """Give a line for each person and quantity that was repeated."""
    return scatter_lines(gauge)
