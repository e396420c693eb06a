"""A gear in its place on a car, as figures for the drawing."""

import math
from typing import Final

import numpy as np

from inspection.compute.fit import BAR_GAP_MM, Envelope, gear_ground, mean_tyre_mm
from inspection.drawing.gear import GearInPlace
from inspection.loaders.fit.stock import FitLine

#: Teeth are drawn from this size on; more of them would run into each other.
_MOST_DRAWN: Final = 80


def gear_in_place(
    line: FitLine, teeth: int | None, envelope: Envelope
) -> GearInPlace | None:
    """Give what the drawing of a gear shows; nothing where its place is not known."""
    diameter = line.outside_diameter_mm
    if diameter is None:
        return None
    clearance = gear_ground(envelope.car).clearance_mm(np.array([diameter]))
    if np.isnan(clearance[0]):
        return None
    distance = _centre_distance_mm(teeth, envelope)
    bar = _finite(envelope.mounting.axle_to_bar_mm[0])
    return GearInPlace(
        outside_diameter_mm=diameter,
        axle_over_ground_mm=float(clearance[0]) + diameter / 2.0,
        ground_limit_mm=_finite(envelope.limits("clearance_gear").lower[0]),
        tyre_diameter_mm=_finite(mean_tyre_mm(envelope)[0]),
        axle_to_bar_mm=bar,
        bar_limit_mm=None if bar is None else BAR_GAP_MM,
        pinion_diameter_mm=None if distance is None else _pinion_mm(envelope),
        centre_distance_mm=distance,
        teeth=teeth if teeth is not None and teeth <= _MOST_DRAWN else None,
    )


def _centre_distance_mm(teeth: int | None, envelope: Envelope) -> float | None:
    """Where the pinion runs: as near as the teeth allow and the slot reaches."""
    if teeth is None or bool(envelope.in_line[0]):
        return None
    module = float(envelope.pinion.module_mm[0])
    distance = module * (teeth + float(envelope.pinion.teeth[0])) / 2.0
    low, high = envelope.mounting.slot_low_mm[0], envelope.mounting.slot_high_mm[0]
    return _finite(float(np.fmin(np.fmax(distance, low), high)))


def _pinion_mm(envelope: Envelope) -> float:
    pinion = envelope.pinion
    return float(pinion.module_mm[0] * (pinion.teeth[0] + 2.0))


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
