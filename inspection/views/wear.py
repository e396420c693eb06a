"""The wear of a car's tyres, as its page shows it."""

from typing import Any, Final

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _

from inspection.compute.entries import PartPosition
from inspection.drawing.series import Chart, Line, describe, draw_series
from inspection.loaders.wear import Wear

_NAMES: Final = {PartPosition.REAR_LEFT: "left", PartPosition.REAR_RIGHT: "right"}


def wear_chart(wear: Wear) -> dict[str, Any]:
    """Draw the diameters over time, where there is more than one to draw."""
    if len(wear.readings) < 3:
        return {}
    chart = Chart(
        title=_("Rear tyres"),
        lines=[
            Line(
                name=_NAMES[side],
                points=[(at.timestamp(), size) for at, size in points],
            )
            for side, points in wear.lines.items()
            if points
        ],
        times=[(when, word) for word, when in _days(wear).items()],
        lower=wear.limit.tyre_diameter if wear.has_left else None,
    )
    return {
        "wear_chart": mark_safe(draw_series(chart)),  # noqa: S308
        "wear_chart_words": describe(chart),
    }


def _days(wear: Wear) -> dict[str, float]:
    days: dict[str, float] = {}
    for one in wear.readings:
        word = date_format(timezone.localtime(one.at), "j M")
        days.setdefault(word, one.at.timestamp())
    return days
