"""The wear of a car's tyres, as its page shows it."""

import datetime as dt
from itertools import chain
from typing import Any, Final

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inspection.compute.night import PartPosition
from inspection.drawing.series import Chart, Line, describe, draw_series
from inspection.loaders.history.wear import TyreWear
from inventory.compute.numbers import round_up

_NAMES: Final = {
    PartPosition.REAR_LEFT: gettext_lazy("left"),
    PartPosition.REAR_RIGHT: gettext_lazy("right"),
}
_PLACES: Final = 2


def wear_chart(wear: TyreWear) -> dict[str, Any]:
    """Draw the diameters over time, where there is more than one to draw."""
    if sum(map(len, wear.lines.values())) < 3:
        return {}
    chart = Chart(
        title=_("Rear tyres"),
        lines=[
            Line(
                name=str(_NAMES[side]),
                points=[(at.timestamp(), size) for at, size in points],
            )
            for side, points in wear.lines.items()
            if points
        ],
        times=_days(wear),
        # Inwards, as the sentence beside it says it.
        lower=round_up(wear.limit.tyre_diameter, decimals=_PLACES)
        if wear.has_left
        else None,
        places=_PLACES,
    )
    return {
        "wear_chart": mark_safe(draw_series(chart)),  # noqa: S308
        "wear_chart_words": describe(chart),
    }


def _days(wear: TyreWear) -> list[tuple[float, str]]:
    """Write the days on which a point stands; of one year only the first says it."""
    moments = sorted(timezone.localtime(at) for at, _ in chain(*wear.lines.values()))
    days: dict[dt.date, dt.datetime] = {}
    for at in moments:
        days.setdefault(at.date(), at)
    one_year = len({day.year for day in days}) == 1
    return [
        (at.timestamp(), date_format(at, "j M" if one_year and place else "j M Y"))
        for place, at in enumerate(days.values())
    ]
