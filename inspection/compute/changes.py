"""
A car with other parts or worn tyres: what its readings would be.

What a change moves is not carried over as it was read.  A clearance that was
taken moves by as much as the derived one does; where nothing can be derived it
falls with smaller tyres and gains nothing from larger ones, which is never too
kind.  Millimetres; one row a change.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from inspection.compute.derivations import Derivation
from inspection.compute.drafts import Draft
from inspection.compute.fields import Field
from inspection.compute.moved_clearances import SOMEWHERE, STANDING, Moves
from inspection.compute.part_tables import (
    Floats,
    Gears,
    Ints,
    Motors,
    Pairs,
    Stock,
)
from inspection.compute.quantities import FrontCarrier, Layout
from inspection.compute.recheck import inputs_of

Bools: TypeAlias = NDArray[np.bool_]

TYRES: Final = ("tyre_diameter_rear_left", "tyre_diameter_rear_right")
#: Columns that a part gives, whether or not the car had them.
_GIVEN: Final = (
    *TYRES,
    "track_rear",
    "teeth_gear",
    "gear_diameter",
    "gear_design_offset",
    "can_height",
    "can_width",
    "can_length",
)
#: What a pair of tyres, a gear and a motor give or move.
COLUMNS_OF_PAIR: Final = (
    *TYRES,
    "width_rear",
    "tyre_width_rear",
    "tyre_hardness",
    "out_of_round",
    "taper",
    "run_out",
    "rim_diameter",
    "weight_car",
    "clearance_magnet",
    "clearance_body",
)
COLUMNS_OF_GEAR: Final = (
    "teeth_gear",
    "gear_diameter",
    "gear_design_offset",
    "weight_car",
)
COLUMNS_OF_MOTOR: Final = (
    "can_height",
    "can_width",
    "can_length",
    "can_front_x",
    "can_half_width",
    "shaft_height_in_can",
    "motor_axis_height",
    "motor_speed",
    "motor_resistance",
    "weight_car",
)
#: Derived from what is changed; a value of the car as it was says nothing now.
_STALE_WITH_TYRES: Final = ("tyre_mismatch_rear", "rollout", "twist", "rake", "tilt")
_STALE_WITH_GEAR: Final = ("gear_ratio", "rollout", "motor_axle_offset")
_STALE_WITH_MOTOR: Final = ("motor_axle_offset",)
_STALE: Final = (*_STALE_WITH_TYRES, *_STALE_WITH_GEAR, "axle_level", "axle_square")
_IN_LINE: Final = tuple(Layout).index(Layout.IN_LINE)


@dataclass(frozen=True, kw_only=True, eq=False)
class Changes:
    """
    Which part goes on, a row a change; -1 keeps what is on the car.

    Places in the tables of a stock.
    """

    pair: Ints
    gear: Ints
    motor: Ints

    def take(self, rows: NDArray[np.intp] | slice) -> "Changes":
        """
        Pick some changes.

        Parameters
        ----------
        rows : slice or ndarray of int
            Which, in this order.

        Returns
        -------
        Changes
            Those.
        """
        return Changes(
            pair=self.pair[rows], gear=self.gear[rows], motor=self.motor[rows]
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class Masses:
    """What the parts on a car weigh, g; NaN where not known."""

    pair_g: float = np.nan
    gear_g: float = np.nan
    motor_g: float = np.nan


def with_parts(
    car: Field, stock: Stock, changes: Changes, masses: Masses | None = None
) -> Field:
    """
    Put parts of a stock on a car.

    Parameters
    ----------
    car : Field
        One row.
    stock : Stock
        The parts.
    changes : Changes
        Which go on.
    masses : Masses, optional
        What they replace weighs; without it the car's weight stays.

    Returns
    -------
    Field
        A row a change.
    """
    draft = Draft(car, len(changes.pair), _GIVEN)
    now = masses or Masses()
    moves = Moves(draft, car)
    if (changes.pair >= 0).any():
        _put_pairs(draft, moves, stock.pairs, changes.pair)
        _reweigh(draft, stock.pairs.mass_g, changes.pair, now.pair_g)
    if (changes.gear >= 0).any():
        _put_gears(draft, moves, stock.gears, changes.gear)
        _reweigh(draft, stock.gears.mass_g, changes.gear, now.gear_g)
    if (changes.motor >= 0).any():
        _put_motors(draft, car, stock.motors, changes.motor)
        moves.add("clearance_motor", np.zeros(1), changes.motor >= 0)
        _reweigh(draft, stock.motors.mass_g, changes.motor, now.motor_g)
    moves.carry_taken()
    return draft.field()


def with_tyres(car: Field, left_mm: Floats, right_mm: Floats) -> Field:
    """
    Put rear tyres of other diameters on a car and change nothing else.

    Parameters
    ----------
    car : Field
        One row.
    left_mm, right_mm : (rows,) ndarray
        Diameters.

    Returns
    -------
    Field
        A row a pair of diameters; they are as well known as those before.
    """
    draft = Draft(car, len(left_mm), TYRES)
    moves = Moves(draft, car)
    everywhere = np.ones(len(left_mm), dtype=np.bool_)
    _move_by_tyres(draft, moves, (left_mm, right_mm), everywhere)
    for name, diameter in zip(TYRES, (left_mm, right_mm), strict=True):
        draft.put(name, diameter, everywhere)
    draft.forget(_STALE_WITH_TYRES, everywhere)
    moves.carry_taken()
    return draft.field()


def with_columns(car: Field, values: Mapping[str, Floats]) -> Field:
    """
    Set columns of a car and let what is derived from them follow.

    Parameters
    ----------
    car : Field
        One row.
    values : mapping of str to (rows,) ndarray
        By column of the registry, not a rear tyre's diameter; in its unit.

    Returns
    -------
    Field
        A row a value; they are as well known as those before.
    """
    rows = len(next(iter(values.values())))
    draft = Draft(car, rows, tuple(values))
    moves = Moves(draft, car)
    everywhere = np.ones(rows, dtype=np.bool_)
    for column, value in values.items():
        draft.put(column, value, everywhere)
    rests_on_them = [
        key
        for key in (*STANDING, *_STALE)
        if any(values.keys() & inputs_of(key, carrier) for carrier in FrontCarrier)
        and key not in values
    ]
    draft.forget(tuple(key for key in rests_on_them if key in _STALE), everywhere)
    for key in rests_on_them:
        if key in STANDING:
            moves.add(key, np.zeros(1), everywhere)
    moves.carry_taken()
    return draft.field()


def _move_by_tyres(
    draft: Draft, moves: Moves, diameters_mm: tuple[Floats, Floats], where: Bools
) -> None:
    grown = [
        diameter - draft.value(name)
        for name, diameter in zip(TYRES, diameters_mm, strict=True)
    ]
    falls = np.minimum(np.fmin(*grown), 0.0) / 2.0
    for key in (*STANDING, *SOMEWHERE):
        moves.add(key, falls, where)


def _put_pairs(draft: Draft, moves: Moves, pairs: Pairs, rows: Ints) -> None:
    where, known = rows >= 0, _uncertainty(pairs, rows)
    diameters = pairs.left_diameter_mm[rows], pairs.right_diameter_mm[rows]
    _move_by_tyres(draft, moves, diameters, where)
    for name, diameter in zip(TYRES, diameters, strict=True):
        draft.put(name, diameter, where, uncertainty=known)
    # The wheels' middles stay where they were, however wide the tyres are.
    width = pairs.width_mm[rows]
    wider = width - draft.value("tyre_width_rear")
    track = draft.value("width_rear") - draft.value("tyre_width_rear")
    draft.put("width_rear", draft.value("width_rear") + wider, where)
    unmeasured = where & np.isnan(width) & np.isnan(draft.value("track_rear"))
    draft.put("track_rear", track, unmeasured)
    for name, sizes in (
        ("tyre_width_rear", pairs.width_mm),
        ("tyre_hardness", pairs.hardness),
        ("out_of_round", pairs.out_of_round_mm),
        ("taper", pairs.taper_mm),
        ("run_out", pairs.run_out_mm),
        ("rim_diameter", pairs.rim_diameter_mm),
    ):
        draft.put(name, sizes[rows], where, uncertainty=known)
    draft.forget((*_STALE_WITH_TYRES, "tyre_outside_body"), where)


def _put_gears(draft: Draft, moves: Moves, gears: Gears, rows: Ints) -> None:
    where, known = rows >= 0, _uncertainty(gears, rows)
    larger = gears.outside_diameter_mm[rows] - draft.value("gear_diameter")
    moves.add("clearance_gear", -larger / 2.0, where)
    for name, sizes in (
        ("teeth_gear", gears.teeth),
        ("gear_diameter", gears.outside_diameter_mm),
        ("gear_design_offset", gears.design_offset_mm),
    ):
        draft.put(name, sizes[rows], where, uncertainty=known)
    draft.forget(_STALE_WITH_GEAR, where)


def _put_motors(draft: Draft, car: Field, motors: Motors, rows: Ints) -> None:
    where, known = rows >= 0, _uncertainty(motors, rows)
    now = Derivation(car, traced=False)

    def grown(sizes: Floats, column: str) -> Floats:
        return np.asarray(sizes[rows] - now.column(column).value[0])

    wider = grown(motors.can_width_mm, "can_width")
    longer = grown(motors.can_length_mm, "can_length")
    in_line = now.column("layout").value[0] == _IN_LINE
    ahead, across = (longer, wider) if in_line else (wider, longer)
    for name, by in (
        # The can's rear edge and its lift stay.
        ("can_front_x", ahead),
        ("can_half_width", across / 2.0),
        ("motor_axis_height", grown(motors.axis_in_can_mm, "shaft_height_in_can")),
    ):
        draft.put(name, draft.value(name) + by, where)
    for name, sizes in (
        ("can_height", motors.can_height_mm),
        ("can_width", motors.can_width_mm),
        ("can_length", motors.can_length_mm),
        ("shaft_height_in_can", motors.shaft_height_in_can_mm),
        ("motor_speed", motors.speed_rpm),
        ("motor_resistance", motors.resistance_ohm),
    ):
        draft.put(name, sizes[rows], where, uncertainty=known)
    draft.forget(_STALE_WITH_MOTOR, where)


def _reweigh(draft: Draft, mass_g: Floats, rows: Ints, now_g: float) -> None:
    heavier = mass_g[rows] - now_g
    # Where a mass is not known the weight is taken to stay: it is weighed again.
    heavier = np.where(np.isnan(heavier), 0.0, heavier)
    draft.put("weight_car", draft.value("weight_car") + heavier, rows >= 0)


def _uncertainty(
    table: Pairs | Gears | Motors, rows: Ints
) -> tuple[Floats, Floats, Ints]:
    return table.random_mm[rows], table.systematic_mm[rows], table.gauge[rows]
