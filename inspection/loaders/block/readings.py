"""The readings of sheets, with all that is said of them."""

from collections.abc import Mapping
from typing import Final

from django.db.models import QuerySet

from inspection.loaders.block.doubts import with_next_check
from inspection.models import Sheet, SheetReading
from inventory.loaders.prepared import STAND_IN, STAND_IN_TOO, Prepared


def is_struck(reading: SheetReading) -> bool:
    """Whether a reading loaded with its strike no longer counts."""
    return hasattr(reading, "strike")


def load_readings(*sheets: Sheet | int | None) -> list[SheetReading]:
    """Read the readings of sheets, oldest first, with all that is said of them."""
    given = [sheet.pk if isinstance(sheet, Sheet) else sheet for sheet in sheets]
    of = [pk for pk in given if pk is not None]
    prepared = _READINGS.get(len(of))
    return prepared.rows(*of) if prepared else list(_readings(*of))


def _readings(*sheets: int) -> "QuerySet[SheetReading]":
    return (
        with_next_check(SheetReading.objects.filter(sheet__in=sheets))
        .select_related(
            "gauge_mode__gauge",
            "gauge_check",
            "by",
            "strike__by",
            "carried_from__sheet",
        )
        .order_by("id")
    )


#: By how many sheets: one, or one and the sheet that it follows.
_READINGS: Final[Mapping[int, Prepared[SheetReading]]] = {
    1: Prepared(_readings, STAND_IN),
    2: Prepared(_readings, STAND_IN, STAND_IN_TOO),
}
