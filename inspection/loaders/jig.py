"""A car's figures as the jig sheet asks for them, and its saved sheets."""

import math
from collections.abc import Mapping
from typing import Final

from inspection.compute.stance import Derivation
from inspection.loaders.fit.cars import CarNow
from inspection.models import Car, SavedJig

#: The jig sheet's fields and the columns that give them.
_COLUMNS: Final[Mapping[str, str]] = {
    "can_height": "can_height",
    "motor_lift": "motor_lift_rear",
    "axle_offset": "gear_design_offset",
    "height_left": "axle_height_rear_left",
    "height_right": "axle_height_rear_right",
    "height_span": "axle_station_span_rear",
    "track": "track_rear",
    "reference_left": "axle_to_reference_left",
    "reference_right": "axle_to_reference_right",
    "reference_span": "axle_reference_span",
}


def jig_figures(car: CarNow) -> dict[str, str]:
    """Write what is known of a car as it would be typed into the jig sheet."""
    derivation = Derivation(car.field, traced=False)

    def now(column: str) -> float:
        return float(derivation.column(column).value[0])

    left, right = now("tyre_diameter_rear_left"), now("tyre_diameter_rear_right")
    known = {field: now(column) for field, column in _COLUMNS.items()} | {
        "race_tyre": (left + right) / 2.0,
        "gear_clearance": float(car.envelope.aims("clearance_gear").lower[0]),
        "axle_to_bar": car.room_mm.get("axle_to_bar_mm", math.nan),
    }
    return {
        field: f"{value:.3f}".rstrip("0").rstrip(".")
        for field, value in known.items()
        if math.isfinite(value)
    }


def last_jig(car: Car) -> SavedJig | None:
    """Give the jig sheet that was kept last with a car."""
    return SavedJig.objects.filter(car=car).select_related("by").first()
