"""By what nights are filtered."""

from typing import Any, ClassVar

from django.db.models import QuerySet
from django_filters import ChoiceFilter, FilterSet

from inspection.models import RaceNight
from inventory.api.foundation.filters import Day

_STATES = {
    "planned": {"opened_at__isnull": True},
    "open": {"opened_at__isnull": False, "closed_at__isnull": True},
    "closed": {"closed_at__isnull": False},
}


class NightFilter(FilterSet):  # type: ignore[misc]
    state = ChoiceFilter(
        choices=[(word, word) for word in _STATES], method="of_state", label="State"
    )
    since = Day(field_name="date", lookup_expr="gte", label="From this day on")
    until = Day(field_name="date", lookup_expr="lte", label="Up to this day")

    class Meta:
        model = RaceNight
        fields: ClassVar[list[str]] = []

    def of_state(
        self, rows: QuerySet[RaceNight], name: str, value: Any
    ) -> QuerySet[RaceNight]:
        return rows.filter(**_STATES[value])
