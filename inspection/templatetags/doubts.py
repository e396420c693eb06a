"""What a failed gauge has put in doubt."""

from dataclasses import dataclass
from typing import Any, Final

from django import template
from django.core.paginator import Page, Paginator

from inspection.loaders.block.doubts import (
    DoubtfulSheet,
    name_sheets,
    sheets_in_doubt,
)
from inventory.models import Gauge

register = template.Library()
SHEETS_A_PAGE: Final = 30


@dataclass(frozen=True, kw_only=True)
class DoubtfulPage:
    """Sheets in doubt, and where in their list they stand."""

    page: Page[Any]
    sheets: list[DoubtfulSheet]


@register.simple_tag(takes_context=True)
def doubtful_sheets(context: dict[str, Any], gauge: Gauge) -> DoubtfulPage:
    """Give a page of the sheets that a failed gauge has put in doubt."""
    number = context["request"].GET.get("doubts")
    page = Paginator(sheets_in_doubt(gauge), SHEETS_A_PAGE).get_page(number)
    return DoubtfulPage(page=page, sheets=name_sheets(page))
