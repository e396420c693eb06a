"""A sheet's figures as the drawings take them."""

import numpy as np

from inspection.compute.conformity import Outcome
from inspection.compute.derivations import Derivation
from inspection.compute.quantities import FrontCarrier, columns_of
from inspection.compute.rules import Field
from inspection.compute.standing import Standing
from inspection.drawing.car import CarFigures, Plane
from inspection.loaders.sheets import LoadedSheet


def figures_of(loaded: LoadedSheet) -> CarFigures:
    """
    Give a car's known values, the derived ones that a rule asked among them.

    Of a slip that went or stopped only a bound is known: there what the car's
    other figures give is drawn, or nothing.
    """
    bounds = {c for c, value in loaded.values.items() if value.went_under is not None}
    taken = {
        column: value.value
        for column, value in loaded.values.items()
        if column not in bounds
    }
    return CarFigures(
        values=_derived(loaded) | taken,
        plane=_ground(loaded.field),
        front_on_guide=loaded.sheet.entry.car.front_carrier == FrontCarrier.GUIDE,
        failing=frozenset(
            column
            for finding in loaded.refused
            if finding.outcome is not Outcome.NOT_MEASURED
            for column in columns_of(finding.rule.quantity.key)
        ),
    )


def _ground(field: Field) -> Plane | None:
    """Give the ground that a car stands on; a rocking car is not on all its tyres."""
    # Of one car alone it would be an error not to stand, of several it is an answer.
    twice = Derivation(field.take(np.array([0, 0])), traced=False)
    slope_x, slope_y, level = Standing(twice).ground[0]
    if np.isnan(level):
        return None
    return float(slope_x), float(slope_y), float(level)


def _derived(loaded: LoadedSheet) -> dict[str, float]:
    found: dict[str, float] = {}
    for finding in loaded.findings:
        value = finding.derived if finding.is_taken else finding.value
        if value is not None:
            found |= dict.fromkeys(columns_of(finding.rule.quantity.key), value)
    return found
