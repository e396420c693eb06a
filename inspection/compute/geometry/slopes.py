"""
Values that remember how far each reading moves them.

A formula is evaluated once, at the values and at a step of each of its own few
inputs; the chain rule carries the slopes back to the readings.  So a reading costs
two evaluations of what it touches, not two of everything.  One number a car.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TypeAlias

import numpy as np

from inventory.compute.arrays import Bools, Floats

#: Step of the central differences, in the unit of the input.
STEP = 1e-3

#: Takes (cars, inputs), gives (cars, outputs).
Formula: TypeAlias = Callable[[Floats], Floats]


def _no_slopes() -> Floats:
    return np.zeros((0, 0))


@dataclass(frozen=True, kw_only=True, eq=False, slots=True)
class Traced:
    """
    One number a car, and its slope in each reading that it comes from.

    ``value`` is ``(cars,)``, NaN where not known; ``table`` is ``(readings, cars)``,
    a row for each of ``readings``, the columns that were read; 0 where not known.
    Without readings it is taken as exact.
    """

    value: Floats
    readings: tuple[str, ...] = ()
    table: Floats = field(default_factory=_no_slopes)

    @property
    def slopes(self) -> Mapping[str, Floats]:
        """The slope in each reading, ``(cars,)``, by the reading's column."""
        return dict(zip(self.readings, self.table, strict=True))


def derive(
    formula: Formula, inputs: Sequence[Traced], *, touches: Bools | None = None
) -> tuple[Traced, ...]:
    """
    Evaluate a formula, and trace its outputs back to the readings.

    Values and steps are taken in one evaluation: the formula is given several rows a
    car, each run of rows in the order of the cars.

    Parameters
    ----------
    formula : callable
        Takes ``(rows, inputs)``, gives ``(rows, outputs)``, row by row.
    inputs : sequence of Traced
        What goes in, in the formula's order.
    touches : (inputs, outputs) ndarray of bool, optional
        Which outputs use an input; all, unless given.

    Returns
    -------
    tuple of Traced
        The outputs.

    Examples
    --------
    >>> width = Traced(
    ...     value=np.array([64.0]), readings=("width",), table=np.ones((1, 1))
    ... )
    >>> tyre = Traced(value=np.array([16.0]), readings=("tyre",), table=np.ones((1, 1)))
    >>> (track,) = derive(lambda w: w[:, :1] - w[:, 1:], (width, tyre))
    >>> track.value, track.slopes["tyre"].round(6)
    (array([48.]), array([-1.]))
    """
    # A column of this table is one run of memory.
    values = np.array([one.value for one in inputs])
    uncertain = [index for index, one in enumerate(inputs) if one.readings]
    if not uncertain:
        return tuple(Traced(value=value) for value in formula(values.T).T)
    outputs, local = _slopes(formula, values, uncertain)
    parents = [inputs[index] for index in uncertain]
    if touches is None:
        readings, tables = _chain(local, parents)
        return tuple(
            Traced(value=value, readings=readings, table=table)
            for value, table in zip(outputs, tables, strict=True)
        )
    traced = []
    for at, (value, used) in enumerate(zip(outputs, touches[uncertain].T, strict=True)):
        some = [parent for parent, counts in zip(parents, used, strict=True) if counts]
        readings, (table,) = _chain(local[used, at : at + 1], some)
        traced.append(Traced(value=value, readings=readings, table=table))
    return tuple(traced)


def _slopes(
    formula: Formula, values: Floats, stepped: list[int]
) -> tuple[Floats, Floats]:
    """Take values, (outputs, cars), and central differences, (stepped, …)."""
    inputs, cars = values.shape
    count = len(stepped)
    moved = values[:, None] + _steps(inputs, tuple(stepped))
    with np.errstate(invalid="ignore"):
        results = formula(moved.reshape(inputs, -1).T)
        ends = results.T.reshape(results.shape[1], 1 + 2 * count, cars)
        slopes = (ends[:, 1 : 1 + count] - ends[:, 1 + count :]) / (2 * STEP)
    # What is not known has no slope; it spoils the value, and that is enough.
    slopes[np.isnan(slopes)] = 0.0
    return ends[:, 0], slopes.transpose(1, 0, 2)


@lru_cache(maxsize=1_000)
def _steps(inputs: int, stepped: tuple[int, ...]) -> Floats:
    """Say how far each row of an evaluation moves each input: none, up, down."""
    count = len(stepped)
    steps = np.zeros((inputs, 1 + 2 * count, 1))
    above = np.arange(1, 1 + count)
    steps[stepped, above] = STEP
    steps[stepped, above + count] = -STEP
    steps.flags.writeable = False
    return steps


def choose(first: Bools, one: Traced, other: Traced) -> Traced:
    """
    Take one of two values, car by car.

    Parameters
    ----------
    first : (cars,) ndarray of bool
        Where to take the first.
    one, other : Traced
        The two.

    Returns
    -------
    Traced
        With the slopes of what was taken.

    Examples
    --------
    >>> taken, derived = Traced(value=np.ones(2)), Traced(value=np.zeros(2))
    >>> choose(np.array([True, False]), taken, derived).value
    array([1., 0.])
    """
    value = np.where(first, one.value, other.value)
    readings, rows = _plan((one.readings, other.readings))
    tables = np.zeros((2, len(readings), len(value)))
    for table, part, own in zip(tables, (one, other), rows, strict=True):
        if part.readings:
            table[own] = part.table
    chosen = np.where(first, tables[0], tables[1])
    return Traced(value=value, readings=readings, table=chosen)


def side_by_side(several: Sequence[Traced]) -> Traced:
    """
    Take some values of each car as one run of rows each, to be derived from together.

    Parameters
    ----------
    several : sequence of Traced
        One number a car each.

    Returns
    -------
    Traced
        ``(values × cars,)``, the cars of the first one first; `apart` is the way back.

    Examples
    --------
    >>> left, right = Traced(value=np.ones(2)), Traced(value=np.zeros(2))
    >>> side_by_side((left, right)).value
    array([1., 1., 0., 0.])
    """
    value = np.array([one.value for one in several])
    readings, rows = _plan(tuple(one.readings for one in several))
    if all(one.readings == readings for one in several):
        table = np.concatenate([one.table for one in several], axis=1)
        return Traced(value=value.reshape(-1), readings=readings, table=table)
    tables = np.zeros((len(readings), *value.shape))
    for at, (one, own) in enumerate(zip(several, rows, strict=True)):
        if one.readings:
            tables[own, at] = one.table
    table = tables.reshape(len(readings), value.size)
    return Traced(value=value.reshape(-1), readings=readings, table=table)


def apart(whole: Traced, of: Sequence[Sequence[Traced]]) -> tuple[Traced, ...]:
    """
    Take values that were derived side by side as one number a car each again.

    Parameters
    ----------
    whole : Traced
        What was derived.
    of : sequence of sequence of Traced
        What each of the values was derived from.

    Returns
    -------
    tuple of Traced
        Each with the slopes in its own readings alone.

    Examples
    --------
    >>> left, right = Traced(value=np.array([8.5])), Traced(value=np.array([8.4]))
    >>> whole = side_by_side((left, right))
    >>> [one.value.tolist() for one in apart(whole, [(left,), (right,)])]
    [[8.5], [8.4]]
    """
    values = whole.value.reshape(len(of), -1)
    tables = whole.table.reshape(len(whole.readings), *values.shape)
    traced = []
    for at, inputs in enumerate(of):
        readings, rows = _own(whole.readings, tuple(one.readings for one in inputs))
        traced.append(
            Traced(value=values[at], readings=readings, table=tables[rows, at])
        )
    return tuple(traced)


# The same few formulas have the same few inputs, car after car.
@lru_cache(maxsize=1_000)
def _plan(
    several: tuple[tuple[str, ...], ...],
) -> tuple[tuple[str, ...], tuple[list[int] | slice, ...]]:
    """List the readings of some values once, and say where each one's own stand."""
    readings = tuple(dict.fromkeys(name for one in several for name in one))
    place = {name: row for row, name in enumerate(readings)}
    return readings, tuple(_follow([place[name] for name in one]) for one in several)


@lru_cache(maxsize=1_000)
def _own(
    whole: tuple[str, ...], several: tuple[tuple[str, ...], ...]
) -> tuple[tuple[str, ...], list[int] | slice]:
    """Pick the readings that any of some values has, and say where they stand."""
    own = {name for one in several for name in one}
    rows = [row for row, name in enumerate(whole) if name in own]
    return tuple(whole[row] for row in rows), _follow(rows)


def _follow(rows: list[int]) -> list[int] | slice:
    """Give rows as a slice where they follow each other, which copies nothing."""
    if rows and rows == list(range(rows[0], rows[-1] + 1)):
        return slice(rows[0], rows[-1] + 1)
    return rows


def _chain(local: Floats, parents: Sequence[Traced]) -> tuple[tuple[str, ...], Floats]:
    """Carry (steps, outputs, cars) back to the readings: (outputs, readings, cars)."""
    readings, rows = _plan(tuple(parent.readings for parent in parents))
    slopes = np.zeros((local.shape[1], len(readings), local.shape[2]))
    for step, parent, own in zip(local, parents, rows, strict=True):
        slopes[:, own] += step[:, None] * parent.table
    return readings, slopes
