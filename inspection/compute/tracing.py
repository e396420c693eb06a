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

from inspection.compute.uncertainty import linearise

FloatArray: TypeAlias = NDArray[np.float64]
BoolArray: TypeAlias = NDArray[np.bool_]

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

    Parameters
    ----------
    formula : callable
        Takes ``(cars, inputs)``, gives ``(cars, outputs)``.
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
    if not uncertain:
        return tuple(Traced(value=value) for value in formula(values).T)

    def of_uncertain(moved: FloatArray) -> FloatArray:
        everything = values.copy(order="K")
        everything[:, uncertain] = moved
        return formula(everything)

    used = None if touches is None else touches[uncertain]
    line = linearise(of_uncertain, values[:, uncertain], touches=used)
    # What is not known has no slope; it spoils the value, and that is enough.
    by_input = line.sensitivity.transpose(1, 2, 0)
    local = np.where(np.isnan(by_input), 0.0, by_input)
    parents = [inputs[index] for index in uncertain]
    return tuple(
        Traced(
            value=value,
            slopes=_chain(
                local[:, output],
                parents,
                None if used is None else used[:, output],
            ),
        )
        for output, value in enumerate(line.value.T)
    )


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
    local: FloatArray, parents: Sequence[Traced], used: BoolArray | None
) -> dict[str, FloatArray]:
    slopes: dict[str, FloatArray] = {}
    for index, parent in enumerate(parents):
        if used is not None and not used[index]:
            continue
        for column, slope in parent.slopes.items():
            part = local[index] * slope
            slopes[column] = slopes[column] + part if column in slopes else part
    return slopes
