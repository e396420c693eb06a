"""By what sheets are filtered."""

from typing import Any, ClassVar

from django.db.models import QuerySet
from django_filters import CharFilter, ChoiceFilter, FilterSet

from inspection.compute.night import SheetState
from inspection.models import Sheet
from inventory.api.foundation.filters import Day, WholeNumber

_STATES: dict[str, dict[str, Any]] = {
    SheetState.OPEN.value: {"seal": None, "void": None},
    SheetState.SEALED.value: {"seal__isnull": False},
    SheetState.VOID.value: {"void__isnull": False},
}


class SheetFilter(FilterSet):  # type: ignore[misc]
    night = WholeNumber(field_name="entry__night", label="Of a night")
    entry = WholeNumber(field_name="entry", label="Of an entry")
    car = CharFilter(field_name="entry__car__tag", max_length=12, label="Of a car")
    state = ChoiceFilter(
        choices=[(word, word) for word in _STATES], method="of_state", label="State"
    )
    since = Day(
        field_name="entry__night__date", lookup_expr="gte", label="From this day on"
    )

    class Meta:
        model = Sheet
        fields: ClassVar[list[str]] = []

    def of_state(self, rows: QuerySet[Sheet], name: str, value: str) -> QuerySet[Sheet]:
        return rows.filter(**_STATES[value])
