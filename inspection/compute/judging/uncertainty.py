"""
Uncertainty of what is computed from readings, to first order.

JCGM 100:2008, 5.1 and 5.2.  Each input has a random part of its own and a
systematic part, the gauge's error, which inputs off that gauge share: whole at one
length, less the further apart the lengths are.  Arrays with the cars first; NaN
stands for an input that was not measured, and spoils only the outputs that use it.

First order is wrong where a function has a kink, and on a level car a least
clearance and a lifted wheel have one: propagate each corner, never the least.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from inspection.compute.judging.gauge_errors import (
    sharing,
    spread_variance,
    weighed,
)
from inventory.compute.arrays import Bools, Floats, Ints
from inventory.compute.errors import ComputeError

_STEP = 1e-3
# So many cars at once that their slopes stay near the processor.
_CARS_AT_ONCE = 256


class ShapesDisagreeError(ComputeError):
    """Arrays about the same cars, inputs or outputs have different shapes."""

    code: ClassVar[str] = "shapes_disagree"


class NegativeUncertaintyError(ComputeError):
    """A standard uncertainty is below zero."""

    code: ClassVar[str] = "negative_uncertainty"


class NotAGaugeIndexError(ComputeError):
    """Gauges are told apart by whole numbers, and others came."""

    code: ClassVar[str] = "not_a_gauge_index"


@dataclass(frozen=True, kw_only=True)
class Propagated:
    """What a function gives, with its standard uncertainty."""

    value: Floats
    standard_uncertainty: Floats


@dataclass(frozen=True, kw_only=True)
class Linearised:
    """What a function gives, with its slope in each input."""

    value: Floats
    sensitivity: Floats


def propagate(
    function: Callable[[Floats], Floats],
    *,
    values: ArrayLike,
    random: ArrayLike,
    systematic: ArrayLike,
    gauge_index: ArrayLike,
    touches: ArrayLike | None = None,
) -> Propagated:
    """
    Carry the uncertainty of the inputs through a function, for all cars at once.

    Parameters
    ----------
    function : callable
        Takes ``(cars, inputs)``, gives ``(cars, outputs)``; smooth at the values.
    values : (cars, inputs) array_like
        The inputs, NaN where not measured.
    random, systematic : (cars, inputs) or (inputs,) array_like
        Standard uncertainties, in the units of the inputs.
    gauge_index : (inputs,) or (cars, inputs) array_like of int
        Inputs off one gauge share a number; below 0, the systematic part is the
        input's own.
    touches : (inputs, outputs) array_like of bool, optional
        Which outputs use an input; all, unless given.  See `linearise`.

    Returns
    -------
    Propagated
        ``value`` and ``standard_uncertainty``, each ``(cars, outputs)``.

    Raises
    ------
    ShapesDisagreeError
        If the arrays do not describe the same cars, inputs and outputs.
    NegativeUncertaintyError
        If an uncertainty is below zero.
    NotAGaugeIndexError
        If a gauge index is no whole number.

    Examples
    --------
    Two tyres off one caliper, its error 0.01: the sum has it twice, the
    difference not at all.

    >>> tyres = propagate(
    ...     lambda d: np.column_stack((d[:, 0] + d[:, 1], d[:, 0] - d[:, 1])),
    ...     values=[[20.1, 20.0]],
    ...     random=[[0.003, 0.004]],
    ...     systematic=[[0.01, 0.01]],
    ...     gauge_index=[0, 0],
    ... )
    >>> tyres.standard_uncertainty.round(5)
    array([[0.02062, 0.005  ]])
    """
    line = linearise(function, values, touches=touches)
    uncertainty = combine(
        line.sensitivity,
        random=random,
        systematic=systematic,
        gauge_index=gauge_index,
        touches=touches,
    )
    return Propagated(value=line.value, standard_uncertainty=uncertainty)


def linearise(
    function: Callable[[Floats], Floats],
    values: ArrayLike,
    *,
    touches: ArrayLike | None = None,
) -> Linearised:
    """
    Take a function's value and slopes, by central differences of 1e-3 a side.

    Inputs that have no output in common are stepped in one evaluation (Curtis,
    Powell and Reid, 1974), so telling which outputs each input touches saves most
    of the work: two evaluations a group, not two an input.

    Parameters
    ----------
    function : callable
        Takes ``(cars, inputs)``, gives ``(cars, outputs)``.
    values : (cars, inputs) array_like
        The inputs.
    touches : (inputs, outputs) array_like of bool, optional
        Which outputs use an input; all, unless given.  What is left out counts as
        a slope of 0.

    Returns
    -------
    Linearised
        ``value`` is ``(cars, outputs)``, ``sensitivity`` ``(cars, inputs, outputs)``.

    Raises
    ------
    ShapesDisagreeError
        If the arrays do not describe the same cars, inputs and outputs.

    Examples
    --------
    >>> line = linearise(lambda d: d[:, :1] * d[:, 1:], [[2.0, 3.0]])
    >>> line.sensitivity.round(6)
    array([[[3.],
            [2.]]])
    """
    at = np.asarray(values, dtype=np.float64)
    _need(at.ndim == 2, "Values are an array of cars by inputs.")
    value = np.asarray(function(at), dtype=np.float64)
    _need(value.ndim == 2 and len(value) == len(at), "A function gives a row a car.")
    touched = _touched(touches, (at.shape[1], value.shape[1]))
    # Cars run fastest in memory: pages of slopes that stay 0 are never filled.
    slopes = np.zeros((*touched.shape, len(at)))
    for group in _apart(touched):
        change = _central_difference(function, at, group).T
        for column in group:
            slopes[column, touched[column]] = change[touched[column]]
    return Linearised(value=value, sensitivity=slopes.transpose(2, 0, 1))


def combine(
    sensitivity: ArrayLike,
    *,
    random: ArrayLike,
    systematic: ArrayLike,
    gauge_index: ArrayLike,
    touches: ArrayLike | None = None,
    places: ArrayLike | None = None,
) -> Floats:
    """
    Combine the inputs' uncertainties by given slopes (JCGM 100:2008, 5.1 and 5.2).

    An input with a slope of 0 counts for nothing, whatever its uncertainty.

    Parameters
    ----------
    sensitivity : (cars, inputs, outputs) array_like
        Slope of each output in each input.
    random, systematic : (cars, inputs) or (inputs,) array_like
        Standard uncertainties, in the units of the inputs.
    gauge_index : (inputs,) or (cars, inputs) array_like of int
        Inputs off one gauge share a number; below 0, none is shared.
    touches : (inputs, outputs) array_like of bool, optional
        Where a slope can be other than 0; looked up, unless given.
    places : (cars, inputs) or (inputs,) array_like, optional
        Where along the gauge each input lies: its length over the length scale of
        the gauge's mode.  Given, two errors of a gauge have the correlation
        exp(-|difference|), which is positive definite (Rasmussen and Williams,
        Gaussian Processes for Machine Learning, 4.2.1); else 1.

    Returns
    -------
    (cars, outputs) ndarray
        Standard uncertainty of each output.

    Raises
    ------
    ShapesDisagreeError
        If the arrays do not describe the same cars, inputs and outputs.
    NegativeUncertaintyError
        If an uncertainty is below zero.
    NotAGaugeIndexError
        If a gauge index is no whole number.

    Examples
    --------
    >>> slopes = [[[1.0], [-1.0]]]
    >>> off = {"random": [0.0, 0.0], "systematic": [0.01, 0.01], "gauge_index": [0, 0]}
    >>> combine(slopes, **off)
    array([[0.]])
    >>> combine(slopes, **off, places=[1.0, 0.4]).round(5)
    array([[0.0095]])
    """
    slope = np.asarray(sensitivity, dtype=np.float64)
    _need(slope.ndim == 3, "Sensitivities are an array of cars by inputs by outputs.")
    cars, inputs, outputs = slope.shape
    noise = _inputs_first(_checked(random), (cars, inputs))
    offset = _inputs_first(_checked(systematic), (cars, inputs))
    gauge = _gauges_first(gauge_index, (cars, inputs))
    place = None
    if places is not None:
        # What was not measured lies nowhere, and its slope is 0.
        place = np.nan_to_num(_inputs_first(places, (cars, inputs)))
    used = (slope != 0).any(axis=0) if touches is None else touches
    touched = _touched(used, (inputs, outputs))

    variance = np.zeros((outputs, cars))
    for used, alike in _alike(touched):
        shared = sharing(gauge[used])
        for start in range(0, cars, _CARS_AT_ONCE):
            some = slice(start, start + _CARS_AT_ONCE)
            part = slope[some].transpose(1, 2, 0)[np.ix_(used, alike)]
            square = (weighed(part, noise[used, None, some]) ** 2).sum(axis=0)
            part = weighed(part, offset[used, None, some])
            variance[alike, some] = square + (
                _systematic_variance(part, gauge[used, some])
                if place is None
                else spread_variance(part, place[used, some], shared, some)
            )
    return np.sqrt(variance).T


def _alike(touched: Bools) -> Iterator[tuple[Ints, Ints]]:
    """Take outputs of many inputs together, and those of few: inputs and outputs."""
    # What hangs on how a car stands uses most of what was read of it, all else little.
    counts = touched.sum(axis=0)
    many = counts > counts.max(initial=0) / 2
    for some in (many, ~many & (counts > 0)):
        if some.any():
            yield np.flatnonzero(touched[:, some].any(axis=1)), np.flatnonzero(some)


def _apart(touched: Bools) -> list[list[int]]:
    """Group inputs so that no two of a group touch one output, busiest inputs first."""
    groups: list[list[int]] = []
    for column in np.argsort(-touched.sum(axis=1), kind="stable").tolist():
        for group in groups:
            if not (touched[group] & touched[column]).any():
                group.append(column)
                break
        else:
            groups.append([column])
    return groups


def _central_difference(
    function: Callable[[Floats], Floats], at: Floats, group: list[int]
) -> Floats:
    above, below = at.copy(), at.copy()
    above[:, group] += _STEP
    below[:, group] -= _STEP
    # An output may be infinite, a radius of equal tyres: its slope is NaN.
    with np.errstate(invalid="ignore"):
        return (function(above) - function(below)) / (2 * _STEP)


def _systematic_variance(part: Floats, gauge: Ints) -> Floats:
    """Sum the squares of what each gauge's errors add up to, inputs first."""
    variance = np.zeros(part.shape[1:])
    for first in range(len(part)):
        label = gauge[first]
        counted_before = (gauge[:first] == label).any(axis=0)
        if counted_before.all():
            continue
        shared = (gauge[first:] == label)[:, None]
        share = np.where(shared, part[first:], 0.0)
        variance += np.where(counted_before, 0.0, share.sum(axis=0) ** 2)
    return variance


def _need(holds: bool, message: str) -> None:  # noqa: FBT001
    if not holds:
        raise ShapesDisagreeError(message)


def _checked(uncertainty: ArrayLike) -> Floats:
    array = np.asarray(uncertainty, dtype=np.float64)
    if (array < 0).any():
        message = "A standard uncertainty cannot be below zero."
        raise NegativeUncertaintyError(message)
    return array


def _inputs_first(given: ArrayLike, shape: tuple[int, int]) -> Floats:
    array = np.asarray(given, dtype=np.float64)
    _need(array.shape in {shape, shape[1:]}, "One number an input is needed, or a row.")
    return np.broadcast_to(array, shape).T


def _gauges_first(gauge_index: ArrayLike, shape: tuple[int, int]) -> Ints:
    array = np.asarray(gauge_index)
    if not np.issubdtype(array.dtype, np.integer):
        message = "Gauges are told apart by whole numbers."
        raise NotAGaugeIndexError(message)
    _need(array.shape in {shape, shape[1:]}, "One gauge an input is needed, or a row.")
    alone = -1 - np.arange(shape[1])
    return np.broadcast_to(np.where(array < 0, alone, array), shape).T


def _touched(touches: ArrayLike | None, shape: tuple[int, int]) -> Bools:
    if touches is None:
        return np.ones(shape, dtype=np.bool_)
    array = np.asarray(touches, dtype=np.bool_)
    _need(array.shape == shape, "Touches are an array of inputs by outputs.")
    return array
