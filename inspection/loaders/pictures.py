"""A sheet's figures as the drawings take them."""

import numpy as np

from inspection.compute.judging import Outcome
from inspection.compute.quantities import FrontCarrier, columns_of
from inspection.compute.stance import Field
from inspection.drawing.car import CarFigures, Plane
from inspection.loaders.block.sheets import LoadedSheet
from inspection.loaders.grounds import ground_of


def figures_of(loaded: LoadedSheet) -> CarFigures:
    """
    Give a car's known values, the derived ones that a rule asked among them.

    Of a slip that went or stopped only a bound is known: there what the car's
    other figures give is drawn, or nothing.
    """
    carrier = loaded.sheet.entry.car.front_carrier
    bounds = {c for c, value in loaded.values.items() if value.went_under is not None}
    taken = {
        column: value.value
        for column, value in loaded.values.items()
        if column not in bounds
    }
    limits = {
        column: (finding.lower, finding.upper)
        for finding in loaded.refused
        if finding.outcome is not Outcome.NOT_MEASURED
        for column in columns_of(finding.rule.quantity.key)
    }
    return CarFigures(
        values=_derived(loaded) | taken,
        plane=_ground(loaded.field, carrier),
        front_on_guide=carrier is FrontCarrier.GUIDE,
        failing=frozenset(limits),
        limits=limits,
    )


def _ground(field: Field, carrier: FrontCarrier) -> Plane | None:
    """Give the ground that a car stands on; a rocking car is not on all its tyres."""
    slope_x, slope_y, level = (
        float(one.value[0]) for one in ground_of(field, carrier).plane
    )
    return None if np.isnan(level) else (slope_x, slope_y, level)


def _derived(loaded: LoadedSheet) -> dict[str, float]:
    values: dict[str, float] = {}
    for finding in loaded.findings:
        value = finding.derived if finding.is_taken else finding.value
        if value is not None:
            values |= dict.fromkeys(columns_of(finding.rule.quantity.key), value)
    return values
