"""A sheet's figures as the drawings take them."""

from functools import lru_cache

import numpy as np

from inspection.compute.judging import Outcome
from inspection.compute.quantities import FrontCarrier, columns_of
from inspection.compute.stance import Derivation, Field, Standing, inputs_of
from inspection.drawing.car import CarFigures, Plane
from inspection.loaders.block.sheets import LoadedSheet


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
    reads = inputs_of("tilt", carrier)
    rows = [at for at, one in enumerate(field.columns) if one in reads]
    bound = field.bound
    return _stood_on(
        tuple(field.columns[at] for at in rows),
        field.value[:1, rows].tobytes(),
        None if bound is None else bound[:1, rows].tobytes(),
    )


# A reading of a weight or a look moves no wheel.
@lru_cache(maxsize=1_000)
def _stood_on(
    columns: tuple[str, ...], packed: bytes, bound: bytes | None
) -> Plane | None:
    """Give the ground that a car stands on; a rocking car is not on all its tyres."""
    value = np.frombuffer(packed).reshape(1, -1)
    code = None if bound is None else np.frombuffer(bound, dtype=np.int8).reshape(1, -1)
    nothing = np.zeros(value.shape)
    field = Field(
        columns=columns,
        value=value,
        random=nothing,
        systematic=nothing,
        gauge=np.zeros(value.shape, dtype=np.int64),
        bound=code,
    )
    # Of one car alone it would be an error not to stand, of several it is an answer.
    twice = Derivation(field.take(np.array([0, 0])), traced=False)
    slope_x, slope_y, level = Standing(twice).ground[0]
    if np.isnan(level):
        return None
    return float(slope_x), float(slope_y), float(level)


def _derived(loaded: LoadedSheet) -> dict[str, float]:
    values: dict[str, float] = {}
    for finding in loaded.findings:
        value = finding.derived if finding.is_taken else finding.value
        if value is not None:
            values |= dict.fromkeys(columns_of(finding.rule.quantity.key), value)
    return values
