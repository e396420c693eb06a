"""
Values that remember how far each reading moves them.

A formula is evaluated once, and its slopes are taken in its own few inputs
alone; the chain rule carries them back to the readings.  So a reading costs
two evaluations of what it touches, not two of everything.  One number a car.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]
BoolArray: TypeAlias = NDArray[np.bool_]

#: Step of the central differences, in the unit of the input.
STEP = 1e-3

#: Takes (cars, inputs), gives (cars, outputs).
Formula: TypeAlias = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, kw_only=True, eq=False, slots=True)
class Traced:
    """
    One number a car, and its slope in each reading that it comes from.

    ``value`` is ``(cars,)``, NaN where not known; so is each of ``slopes``, by the
    reading's column, 0 where not known.  Without slopes it is taken as exact.
    """

    value: FloatArray
    slopes: Mapping[str, FloatArray] = field(default_factory=dict)


def derive(
    formula: Formula, inputs: Sequence[Traced], *, touches: BoolArray | None = None
) -> tuple[Traced, ...]:
    """
    Evaluate a formula, and trace its outputs back to the readings.

    All steps are taken in one evaluation: the formula is given several rows a car,
    each run of rows in the order of the cars.

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
    >>> width = Traced(value=np.array([64.0]), slopes={"width": np.ones(1)})
    >>> tyre = Traced(value=np.array([16.0]), slopes={"tyre": np.ones(1)})
    >>> (track,) = derive(lambda w: w[:, :1] - w[:, 1:], (width, tyre))
    >>> track.value, track.slopes["tyre"].round(6)
    (array([48.]), array([-1.]))
    """
    # A column of this table is one run of memory.
    values = np.array([one.value for one in inputs]).T
    uncertain = [index for index, one in enumerate(inputs) if one.slopes]
    outputs = formula(values).T
    if not uncertain:
        return tuple(Traced(value=value) for value in outputs)
    local = _slopes(formula, values, uncertain)
    used = np.ones(local.shape[:2], dtype=np.bool_)
    if touches is not None:
        used = touches[uncertain]
    parents = [inputs[index].slopes for index in uncertain]
    return tuple(
        Traced(value=value, slopes=_chain(local[:, at], parents, used[:, at]))
        for at, value in enumerate(outputs)
    )


def _slopes(formula: Formula, values: FloatArray, stepped: list[int]) -> FloatArray:
    """Take central differences: (stepped, outputs, cars)."""
    cars, inputs = values.shape
    count = len(stepped)
    moved = np.empty((inputs, 2, count, cars))
    moved[:] = values.T[:, None, None]
    for step, column in enumerate(stepped):
        moved[column, 0, step] += STEP
        moved[column, 1, step] -= STEP
    with np.errstate(invalid="ignore"):
        found = formula(moved.reshape(inputs, 2 * count * cars).T)
        ends = found.T.reshape(found.shape[1], 2, count, cars)
        slopes = ((ends[:, 0] - ends[:, 1]) / (2 * STEP)).transpose(1, 0, 2)
    # What is not known has no slope; it spoils the value, and that is enough.
    return np.where(np.isnan(slopes), 0.0, slopes)


def choose(first: BoolArray, one: Traced, other: Traced) -> Traced:
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
    slopes = {
        column: np.where(
            first, one.slopes.get(column, 0.0), other.slopes.get(column, 0.0)
        )
        for column in {**one.slopes, **other.slopes}
    }
    return Traced(value=np.where(first, one.value, other.value), slopes=slopes)


def _chain(
    local: FloatArray, parents: Sequence[Mapping[str, FloatArray]], used: BoolArray
) -> dict[str, FloatArray]:
    slopes: dict[str, FloatArray] = {}
    for step, parent, counts in zip(local, parents, used, strict=True):
        if not counts:
            continue
        for column, slope in parent.items():
            part = step * slope
            slopes[column] = slopes[column] + part if column in slopes else part
    return slopes
