"""What a failed gauge has put in doubt."""

from django import template

from inspection.loaders.doubts import DoubtfulSheet, doubtful_gauges, sheets_in_doubt
from inspection.models import Sheet
from inventory.models import Gauge

register = template.Library()


@register.simple_tag
def gauges_in_doubt(sheet: Sheet) -> list[str]:
    """Name the gauges of a sheet that failed the next check they had."""
    return doubtful_gauges(sheet)


@register.simple_tag
def doubtful_sheets(gauge: Gauge) -> list[DoubtfulSheet]:
    """Give the sheets that a failed gauge has put in doubt."""
    return sheets_in_doubt(gauge)
