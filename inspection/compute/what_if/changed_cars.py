"""
A car with other parts or worn tyres: what its readings would be.

What a change moves is not carried over as it was read.  A clearance that was
taken moves by as much as the derived one does; where nothing can be derived it
falls with smaller tyres and gains nothing from larger ones, which is never too
kind.  Millimetres; one row a change.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from inspection.compute.quantities import (
    COLUMNS,
    QUANTITIES,
    Kind,
    Layout,
    columns_of,
)
from inspection.compute.stance import Derivation, Field, quantities_reading
from inspection.compute.what_if.car_copies import Draft
from inspection.compute.what_if.moved_clearances import SOMEWHERE, STANDING, Moves
from inspection.compute.what_if.part_tables import (
    Gears,
    Motors,
    Pairs,
    Stock,
    unknown,
)
from inventory.compute.arrays import Bools, Floats, Ints

TYRES: Final = columns_of("tyre_diameter_rear")
_DIAMETERS: Final = ("left_diameter_mm", "right_diameter_mm")
_IN_LINE: Final = tuple(Layout).index(Layout.IN_LINE)


class Change(StrEnum):
    """What is put on a car."""

    PAIR = "pair"
    GEAR = "gear"
    MOTOR = "motor"


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
    """What the parts on a car weigh, g, or on each of many; NaN where not known."""

    pair_g: float | Floats = np.nan
    gear_g: float | Floats = np.nan
    motor_g: float | Floats = np.nan


def with_parts(
    car: Field, stock: Stock, changes: Changes, masses: Masses | None = None
) -> Field:
    """
    Put parts of a stock on a car, or on each of many.

    Parameters
    ----------
    car : Field
        One row, or a row a change.
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

    Examples
    --------
    >>> car = Field.exact(
    ...     {"tyre_diameter_rear_left": [20.0], "tyre_diameter_rear_right": [20.0]}
    ... )
    >>> pairs = Pairs(
    ...     left_diameter_mm=np.array([20.3]), right_diameter_mm=np.array([20.3])
    ... )
    >>> keep = np.array([-1])
    >>> changed = with_parts(
    ...     car, Stock(pairs=pairs), Changes(pair=np.array([0]), gear=keep, motor=keep)
    ... )
    >>> changed.value[:, changed.position("tyre_diameter_rear_left")]
    array([20.3])
    """
    given = [name for one in Change for name in columns_of_change(one)]
    draft = Draft(car, len(changes.pair), tuple(dict.fromkeys(given)))
    now = masses or Masses()
    moves = Moves(draft, car)
    if (changes.pair >= 0).any():
        by_mm = _put_pairs(draft, stock.pairs, changes.pair)
        _follow(draft, moves, columns_of_change(Change.PAIR), by_mm, changes.pair >= 0)
        _reweigh(draft, stock.pairs.mass_g, changes.pair, now.pair_g)
    if (changes.gear >= 0).any():
        by_mm = _put_gears(draft, stock.gears, changes.gear)
        _follow(draft, moves, columns_of_change(Change.GEAR), by_mm, changes.gear >= 0)
        _reweigh(draft, stock.gears.mass_g, changes.gear, now.gear_g)
    if (changes.motor >= 0).any():
        _put_motors(draft, car, stock.motors, changes.motor)
        nothing, where = np.zeros(1), changes.motor >= 0
        _follow(draft, moves, columns_of_change(Change.MOTOR), nothing, where)
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

    Examples
    --------
    >>> car = Field.exact(
    ...     {"tyre_diameter_rear_left": [20.0], "tyre_diameter_rear_right": [20.0]}
    ... )
    >>> smaller_mm = np.array([19.9, 19.8])
    >>> with_tyres(car, smaller_mm, smaller_mm).value
    array([[19.9, 19.9],
           [19.8, 19.8]])
    """
    draft = Draft(car, len(left_mm), TYRES)
    moves = Moves(draft, car)
    everywhere = np.ones(len(left_mm), dtype=np.bool_)
    falls = _falls(draft, (left_mm, right_mm))
    for name, diameter in zip(TYRES, (left_mm, right_mm), strict=True):
        draft.put(name, diameter, everywhere)
    _follow(draft, moves, TYRES, falls, everywhere)
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

    Examples
    --------
    >>> car = Field.exact({"teeth_pinion": [9.0], "teeth_gear": [27.0]})
    >>> tried = with_columns(car, {"teeth_gear": np.array([28.0, 30.0])})
    >>> Derivation(tried, traced=False).column("gear_ratio").value.round(3)
    array([3.111, 3.333])
    """
    rows = len(next(iter(values.values())))
    draft = Draft(car, rows, tuple(values))
    moves = Moves(draft, car)
    everywhere = np.ones(rows, dtype=np.bool_)
    for column, value in values.items():
        draft.put(column, value, everywhere)
    _follow(draft, moves, tuple(values), np.zeros(1), everywhere)
    moves.carry_taken()
    return draft.field()


@cache
def columns_of_change(change: Change) -> tuple[str, ...]:
    """
    Columns that a part gives or moves, when it goes on a car.

    Parameters
    ----------
    change : Change
        What goes on.

    Returns
    -------
    tuple of str
        Without what is worked out from them.
    """
    noted, part = _Noted(), np.zeros(1, dtype=np.int64)
    match change:
        case Change.PAIR:
            _put_pairs(
                noted,
                Pairs(left_diameter_mm=unknown(), right_diameter_mm=unknown()),
                part,
            )
        case Change.GEAR:
            _put_gears(noted, Gears(teeth=unknown()), part)
        case _:
            _put_motors(noted, noted.car, Motors(can_height_mm=unknown()), part)
    _reweigh(noted, np.zeros(1), part, 0.0)
    put = frozenset(noted.changed)
    return (*noted.changed, *(SOMEWHERE if _moves_stance(put) else ()))


class _Noted(Draft):
    """A car of which nothing is known, that notes which columns a change writes."""

    def __init__(self) -> None:
        nothing = np.full((1, len(COLUMNS)), np.nan)
        self.car = Field(
            columns=COLUMNS,
            value=nothing,
            random=np.zeros_like(nothing),
            systematic=np.zeros_like(nothing),
            gauge=np.full(nothing.shape, -1),
        )
        super().__init__(self.car, 1)
        self.changed: dict[str, None] = {}

    def put(
        self,
        name: str,
        value: Floats,
        where: Bools,
        *,
        uncertainty: tuple[Floats, Floats, Ints] | None = None,
    ) -> None:
        """Note the column; as `Draft.put`."""
        self.changed[name] = None
        super().put(name, value, where, uncertainty=uncertainty)


def _follow(
    draft: Draft, moves: Moves, columns: tuple[str, ...], by_mm: Floats, where: Bools
) -> None:
    """Forget what is worked out from changed columns; move what was taken."""
    changed = frozenset(columns)
    derived = quantities_reading(changed)
    # A value of the car as it was says nothing now.
    worked_out = (key for key in derived if QUANTITIES[key].kind is Kind.DERIVED)
    draft.forget(tuple(worked_out), where)
    somewhere = SOMEWHERE if _moves_stance(changed) else ()
    for key in (*(key for key in STANDING if key in derived), *somewhere):
        moves.add(key, by_mm, where)


def _moves_stance(columns: frozenset[str]) -> bool:
    return "rake" in quantities_reading(columns)


def _falls(draft: Draft, diameters_mm: tuple[Floats, Floats]) -> Floats:
    """By how much a clearance falls at most with other tyres; nothing gained."""
    grown = [
        diameter - draft.value(name)
        for name, diameter in zip(TYRES, diameters_mm, strict=True)
    ]
    falls: Floats = np.minimum(np.fmin(*grown), 0.0) / 2.0
    return falls


def _put_pairs(draft: Draft, pairs: Pairs, rows: Ints) -> Floats:
    """Put tyres on; say by how much a clearance falls."""
    where = rows >= 0
    diameters = pairs.left_diameter_mm[rows], pairs.right_diameter_mm[rows]
    falls = _falls(draft, diameters)
    for name, diameter, size in zip(TYRES, diameters, _DIAMETERS, strict=True):
        draft.put(name, diameter, where, uncertainty=_doubt(pairs, size, rows))
    # The wheels' middles stay where they were, however wide the tyres are.
    width = pairs.width_mm[rows]
    wider = width - draft.value("tyre_width_rear")
    track = draft.value("width_rear") - draft.value("tyre_width_rear")
    draft.put("width_rear", draft.value("width_rear") + wider, where)
    unmeasured = where & np.isnan(width) & np.isnan(draft.value("track_rear"))
    draft.put("track_rear", track, unmeasured)
    for name, size in (
        ("tyre_width_rear", "width_mm"),
        ("tyre_hardness", "hardness"),
        ("out_of_round", "out_of_round_mm"),
        ("taper", "taper_mm"),
        ("run_out", "run_out_mm"),
        ("rim_diameter", "rim_diameter_mm"),
    ):
        _put_size(draft, name, pairs, size, rows)
    return falls


def _put_gears(draft: Draft, gears: Gears, rows: Ints) -> Floats:
    """Put a gear on; say by how much the clearance under it moves."""
    larger = gears.outside_diameter_mm[rows] - draft.value("gear_diameter")
    for name, size in (
        ("teeth_gear", "teeth"),
        ("gear_diameter", "outside_diameter_mm"),
        ("gear_design_offset", "design_offset_mm"),
    ):
        _put_size(draft, name, gears, size, rows)
    return -larger / 2.0


def _put_motors(draft: Draft, car: Field, motors: Motors, rows: Ints) -> None:
    where = rows >= 0
    now = Derivation(car, traced=False)

    def grown(sizes: Floats, column: str) -> Floats:
        return np.asarray(sizes[rows] - now.column(column).value)

    wider = grown(motors.can_width_mm, "can_width")
    longer = grown(motors.can_length_mm, "can_length")
    in_line = now.column("layout").value == _IN_LINE
    ahead = np.where(in_line, longer, wider)
    across = np.where(in_line, wider, longer)
    for name, by in (
        # The can's rear edge and its lift stay.
        ("can_front_x", ahead),
        ("can_half_width", across / 2.0),
        ("motor_axis_height", grown(motors.axis_in_can_mm, "shaft_height_in_can")),
    ):
        draft.put(name, draft.value(name) + by, where)
    for name, size in (
        ("can_height", "can_height_mm"),
        ("can_width", "can_width_mm"),
        ("can_length", "can_length_mm"),
        ("shaft_height_in_can", "shaft_height_in_can_mm"),
        ("motor_speed", "speed_rpm"),
        ("motor_resistance", "resistance_ohm"),
    ):
        _put_size(draft, name, motors, size, rows)


def _reweigh(draft: Draft, mass_g: Floats, rows: Ints, now_g: float | Floats) -> None:
    heavier = mass_g[rows] - now_g
    # Where a mass is not known the weight is taken to stay: it is weighed again.
    heavier = np.where(np.isnan(heavier), 0.0, heavier)
    draft.put("weight_car", draft.value("weight_car") + heavier, rows >= 0)


def _put_size(
    draft: Draft, column: str, table: Pairs | Gears | Motors, size: str, rows: Ints
) -> None:
    """Put a size that the parts have, as well known as it is of each."""
    sizes: Floats = getattr(table, size)
    doubt = _doubt(table, size, rows)
    draft.put(column, sizes[rows], rows >= 0, uncertainty=doubt)


def _doubt(
    table: Pairs | Gears | Motors, size: str, rows: Ints
) -> tuple[Floats, Floats, Ints]:
    of_size = table.doubt(size).take(rows)
    return of_size.random, of_size.systematic, of_size.gauge
