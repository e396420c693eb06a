"""
Pairs alike in several measures at once: diameter, width, hardness, run-out.

Each measure in its own unit, positions out.
"""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inventory.compute.arrays import Ints
from inventory.compute.errors import ComputeError
from inventory.compute.pairing.matching import Links, Windows, match_windows
from inventory.compute.pairing.sizes import (
    NotALimitError,
    PositionError,
    number_groups,
)

# Measures and tolerances are compared in millionths of their unit: 20.1 - 20.0 is
# more than 0.1 in floating point, and must not fail for that.
STEPS = 1e6
LARGEST_MEASURE = 1e9
# Totals are compared in these parts of the weights' sum, so that they are whole.
COST_STEPS = 1e8


class NotATableError(ComputeError):
    """Measures do not come as one row for each part, or as many as tolerances."""

    code: ClassVar[str] = "not_a_table"


class NotAMeasureError(PositionError):
    """A measure is missing or infinite; ``column`` says which, from 0."""

    code: ClassVar[str] = "not_a_measure"

    def __init__(self, text: str, *, position: int, column: int) -> None:
        super().__init__(f"column {column}: {text}", position=position)
        self.column = column


@dataclass(frozen=True, kw_only=True, eq=False)
class FeatureMatching:
    """
    Which two belong together, and who is left.

    Attributes
    ----------
    first, second : (k,) ndarray of int64
        Positions of each pair, the smaller by its first measure first, of two
        equal the lower position.
    cost : (k,) ndarray of float64
        Weighted sum of difference over tolerance; the pairs are sorted by it.
    leftover : (n - 2 * k,) ndarray of int64
        Positions without a partner, ascending.
    more_pairs : int
        No choice has more than so many pairs more: 0 if these are proven the most.
    dearer_by : float
        Of as many pairs no choice costs less by more than this: 0 if these are
        proven the best.
    """

    first: Ints
    second: Ints
    cost: NDArray[np.float64]
    leftover: Ints
    more_pairs: int = 0
    dearer_by: float = 0.0


def pair_by_features(
    features: ArrayLike,
    *,
    tolerances: ArrayLike,
    weights: ArrayLike,
    group: Iterable[Hashable] | None = None,
) -> FeatureMatching:
    """
    Pair by several measures: most pairs, then least weighted sum of differences.

    A pair is possible if every measure agrees within its tolerance; it costs the
    sum of weight · difference / tolerance.  A tolerance of zero asks for equals and
    adds nothing.  Exact up to three million possible pairs; of more, it is either
    proven so all the same, or how far it can be from the best is told.

    Parameters
    ----------
    features : (n, m) array_like of float
        A row for each part, a column for each measure.
    tolerances : (m,) array_like of float
        Widest difference inside a pair, itself allowed; in the measure's unit.
    weights : (m,) array_like of float
        What a whole tolerance of each measure costs.
    group : (n,) iterable, optional
        Only parts of the same group may pair.

    Returns
    -------
    FeatureMatching

    Raises
    ------
    NotATableError
        If the shapes do not fit each other.
    NotAMeasureError
        If a measure is missing; with row and column.
    NotALimitError
        If a tolerance or weight is negative or missing.
    NoGroupError
        If a group is missing; with the position.
    TooManyLinksError
        If so many pairs are possible that trying them would take minutes.

    Examples
    --------
    >>> pairs = pair_by_features(
    ...     [[20.00, 11.0], [20.04, 11.1], [20.01, 11.4]],
    ...     tolerances=[0.05, 0.2],
    ...     weights=[1, 1],
    ... )
    >>> pairs.first, pairs.second, pairs.cost.round(3), pairs.leftover
    (array([0]), array([1]), array([1.3]), array([2]))
    """
    table = check_measures(features)
    count, width = table.shape
    tolerance = np.rint(check_limits("tolerance", tolerances, count=width) * STEPS)
    weight = check_limits("weight", weights, count=width)
    code = number_groups(group, count=count)
    rate = np.divide(weight, tolerance, out=np.zeros(width), where=tolerance > 0)
    if count == 0:
        return _sort(table, code, code, np.zeros(0))
    scale = COST_STEPS / (weight.sum() or 1.0)
    order, stop, by = _narrowest(table, tolerance, code)
    row = table[order]
    others = [
        (row[:, column].copy(), reach)
        for column, reach in enumerate(tolerance.tolist())
        if column != by
    ]

    def weigh(low: Ints, high: Ints) -> Links:
        for measure, reach in others:
            near = np.abs(measure[high] - measure[low]) <= reach
            low, high = low[near], high[near]
        cost = np.rint(np.abs(row[high] - row[low]) @ rate * scale)
        return Links(low=low, high=high, cost=cost.astype(np.int64))

    matched = match_windows(Windows(start=np.zeros(count, int), stop=stop, weigh=weigh))
    cost = (np.abs(row[matched.high] - row[matched.low]) * rate).sum(axis=1)
    return replace(
        _sort(table, order[matched.low], order[matched.high], cost),
        more_pairs=matched.more_pairs,
        dearer_by=matched.dearer_by / scale,
    )


def check_measures(features: ArrayLike) -> NDArray[np.float64]:
    """
    Take measures as a table of whole millionths.

    Parameters
    ----------
    features : (n, m) array_like of float
        A row for each part, a column for each measure.

    Returns
    -------
    (n, m) ndarray of float64
        Ints numbers, small enough to be exact.

    Raises
    ------
    NotATableError
        If it is no table of numbers.
    NotAMeasureError
        If one is missing or beyond a thousand million; with row and column.

    Examples
    --------
    >>> check_measures([[20.1, 0.5]])
    array([[20100000.,   500000.]])
    """
    try:
        table = np.asarray(features, dtype=np.float64)
    except (TypeError, ValueError) as error:
        text = "measures come as a table of numbers"
        raise NotATableError(text) from error
    if table.ndim != 2 or table.shape[1] == 0:
        text = f"measures come as a table of parts by measures, not {table.shape}"
        raise NotATableError(text)
    # NaN compares false, so that it is caught here too.
    bad = ~(np.abs(table) <= LARGEST_MEASURE)
    if bad.any():
        position, column = np.argwhere(bad)[0].tolist()
        text = f"{table[position, column]} is not a measure"
        raise NotAMeasureError(text, position=position, column=column)
    return np.rint(table * STEPS)


def check_limits(name: str, limits: ArrayLike, *, count: int) -> NDArray[np.float64]:
    """
    Take a limit for each measure, zero allowed.

    Parameters
    ----------
    name : str
        What the limits are called, for the refusal.
    limits : (m,) array_like of float
        The limits.
    count : int
        How many there must be.

    Returns
    -------
    (m,) ndarray of float64

    Raises
    ------
    NotATableError
        If there are more or fewer.
    NotALimitError
        If one is negative, missing or beyond a thousand million.

    Examples
    --------
    >>> check_limits("tolerance", [0.05, 2], count=2)
    array([0.05, 2.  ])
    """
    row = np.asarray(limits, dtype=np.float64)
    if row.shape != (count,):
        text = f"{count} measures need a {name} each, not {row.shape}"
        raise NotATableError(text)
    if not np.all((row >= 0) & (row <= LARGEST_MEASURE)):
        text = f"a {name} must be zero or more"
        raise NotALimitError(text)
    return row


def _narrowest(
    table: NDArray[np.float64], tolerance: NDArray[np.float64], code: Ints
) -> tuple[Ints, Ints, int]:
    # Sorted by the measure that rules out most, a part's possible partners are a
    # window; the other measures are tried on these only.
    windows = [
        (*_window(table, column, reach, code), column)
        for column, reach in enumerate(tolerance.tolist())
    ]
    return min(windows, key=lambda window: int(window[1].sum()))


def _window(
    table: NDArray[np.float64], column: int, reach: float, code: Ints
) -> tuple[Ints, Ints]:
    order = np.lexsort((*table.T, table[:, column], code))
    value = table[order, column]
    start = np.flatnonzero(np.diff(code[order], prepend=-1))
    stop = [
        first + np.searchsorted(value[first:last], value[first:last] + reach, "right")
        for first, last in zip(start, [*start[1:], value.size], strict=True)
    ]
    return order, np.concatenate(stop)


def _sort(
    table: NDArray[np.float64], one: Ints, other: Ints, cost: NDArray[np.float64]
) -> FeatureMatching:
    measure = table[:, 0]
    swap = (measure[one] > measure[other]) | (
        (measure[one] == measure[other]) & (one > other)
    )
    first, second = np.where(swap, other, one), np.where(swap, one, other)
    order = np.lexsort((first, cost))
    alone = np.ones(table.shape[0], bool)
    alone[first] = False
    alone[second] = False
    return FeatureMatching(
        first=first[order],
        second=second[order],
        cost=cost[order],
        leftover=np.flatnonzero(alone),
    )
