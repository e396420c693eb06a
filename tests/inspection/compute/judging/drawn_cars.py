"""Cars whose true sizes are known, read again and again with errors of known law."""

from collections.abc import Mapping, Sequence

import numpy as np

from inspection.compute.judging import DecisionRule, Rules, evaluate
from inspection.compute.quantities import QUANTITIES, column_owner
from inspection.compute.stance import Field
from inventory.compute.measuring import GaugeMode
from tests.inspection.compute.cars import LEVEL, make_field, make_rules

RANDOM = SYSTEMATIC = 0.01
#: Every kind of quantity that is a least or a most over places or sides, beside
#: those of one place; ``True`` for one that has an upper limit.
LEAST_OR_MOST = {
    "clearance_rear": False,
    "clearance_front": False,
    "clearance_least": False,
    "clearance_motor": False,
    "clearance_gear": False,
    "tyre_outside_body": True,
    "tyre_diameter_rear": False,
    "tyre_diameter_front": True,
    "axle_height_rear": False,
}
#: How the places of the true car lie to each other.
ARRANGEMENTS: Mapping[str, Mapping[str, float]] = {
    "level": {},
    "tilted": {
        "tyre_diameter_rear_left": 20.46,
        "tyre_diameter_front_left": 18.06,
    },
    # A front wheel hangs free: the car goes over from one three feet to the other.
    "rocking": {"axle_height_front_left": 7.56, "tyre_diameter_front_right": 18.02},
    "one low": {
        "axle_height_rear_right": 8.8,
        "axle_height_front_left": 7.45,
        "tyre_diameter_rear_right": 20.2,
        "tyre_diameter_front_right": 18.3,
        "width_front": 68.4,
    },
}


def true_car(arrangement: str) -> Field:
    """Make one car of an arrangement, with what its readings would be off by."""
    # One axle as wide outside the body as the other, and the least as wide as that.
    level = LEVEL | {"width_front": 76.0, "body_width": 75.0, "tyre_sink": 0.0}
    car = level | dict(ARRANGEMENTS[arrangement])
    field = make_field(
        [car], random=RANDOM, systematic=SYSTEMATIC, also=list(LEAST_OR_MOST)
    )
    at = field.columns.index("tyre_sink")
    field.random[0, at] = field.systematic[0, at] = 0.0
    return field


def read_again(car: Field, times: int, chance: np.random.Generator) -> Field:
    """
    Read a car so many times, each with another gauge of the same kind.

    Errors of one gauge are drawn from the covariance that is stated for them: its
    likeness falls as exp(−difference / scale), by Cholesky's factor of it.
    """
    value = np.nan_to_num(car.value[0])
    scale = np.array([_scale(column) for column in car.columns])
    place = value / scale
    likeness = np.exp(-np.abs(place[:, None] - place[None, :]))
    spread = np.outer(car.systematic[0], car.systematic[0]) * likeness
    root = np.linalg.cholesky(spread + 1e-15 * np.eye(len(value)))
    shape = (times, len(value))
    errors = chance.normal(size=shape) @ root.T
    errors = errors + car.random[0] * chance.normal(size=shape)
    return Field(
        columns=car.columns,
        value=np.round(car.value + errors, 6),
        random=np.repeat(car.random, times, axis=0),
        systematic=np.repeat(car.systematic, times, axis=0),
        gauge=np.zeros(shape, dtype=np.int64),
    )


def _scale(column: str) -> float:
    mode = QUANTITIES[column_owner(column)[0]].mode
    return (mode or GaugeMode.OUTSIDE).length_scale_mm


def limits_at(
    car: Field, keys: Sequence[str], *, off: float = 0.0
) -> dict[str, tuple[float | None, float | None]]:
    """Put each limit at the car's true value, or so many u inside or outside of it."""
    wide = {key: (None, 1e6) if LEAST_OR_MOST[key] else (-1e6, None) for key in keys}
    twice = car.take(np.array([0, 0]))
    found = evaluate(make_rules(twice, wide), twice)
    limits: dict[str, tuple[float | None, float | None]] = {}
    for at, key in enumerate(keys):
        value, u = found.value[0, at], found.u[0, at]
        # A limit that the true value meets to the last digit.
        if LEAST_OR_MOST[key]:
            limits[key] = None, float(np.ceil((value - off * u) * 1e6) / 1e6)
        else:
            limits[key] = float(np.floor((value + off * u) * 1e6) / 1e6), None
    return limits


def rules_at(car: Field, times: int, rule: DecisionRule, *, off: float = 0.0) -> Rules:
    """Rules whose limits lie at the car's true values, for so many readings of it."""
    limits = limits_at(car, list(LEAST_OR_MOST), off=off)
    one = make_rules(car, limits, decision_rule=rule)
    return one.take(np.zeros(times, dtype=np.intp))
