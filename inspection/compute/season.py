"""
A season's figures: medians by group, wear by night, the spread of repeats.

Arrays of readings or findings; values in their quantity's unit.
"""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]
IntArray: TypeAlias = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Medians:
    """
    Of each group; ``(groups,)`` throughout.

    Attributes
    ----------
    count : ndarray of int
        Values in the group.
    median, least : ndarray
        NaN where the group is empty.
    """

    count: IntArray
    median: FloatArray
    least: FloatArray


def medians(values: FloatArray, group: IntArray, *, groups: int) -> Medians:
    """
    Take the median and the least of each group.

    Parameters
    ----------
    values : (n,) ndarray
        Finite.
    group : (n,) ndarray of int
        To which group each belongs, from 0.
    groups : int
        How many groups there are.

    Returns
    -------
    Medians
        Of every group.

    Examples
    --------
    >>> found = medians(np.array([3.0, 1.0, 2.0]), np.array([0, 0, 2]), groups=3)
    >>> found.median, found.count
    (array([ 2., nan,  2.]), array([2, 0, 1]))
    """
    count: IntArray = np.bincount(group, minlength=groups)
    order = np.lexsort((values, group))
    # A group's values lie together, the least first; a blank at the end lets an
    # empty last group point somewhere.
    ranked = np.append(values[order], np.nan)
    start = np.cumsum(count) - count
    low, high = start + (count - 1) // 2, start + count // 2
    empty = count == 0
    median = (ranked[np.where(empty, -1, low)] + ranked[np.where(empty, -1, high)]) / 2
    return Medians(
        count=count,
        median=median,
        least=ranked[np.where(empty, -1, start)],
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Repeats:
    """
    How repeats of one reading spread, an owner; ``(owners,)`` throughout.

    Attributes
    ----------
    sets : ndarray of int
        Sets of two or more readings.
    degrees_of_freedom : ndarray of int
        Readings less sets.
    standard_deviation : ndarray
        Pooled over the sets; NaN without any.
    """

    sets: IntArray
    degrees_of_freedom: IntArray
    standard_deviation: FloatArray


def repeats(
    values: FloatArray, in_set: IntArray, owner: IntArray, *, owners: int
) -> Repeats:
    """
    Pool the spread of repeated readings.

    The squared distances from each set's own mean, over readings less sets
    (the pooled estimate of JCGM 100 4.2.4): which car it was plays no part.

    Parameters
    ----------
    values : (n,) ndarray
        Readings.
    in_set : (n,) ndarray of int
        To which set each belongs, from 0.
    owner : (sets,) ndarray of int
        Whose each set is, from 0.
    owners : int
        How many owners there are.

    Returns
    -------
    Repeats
        Of every owner; a set of a single reading says nothing.

    Examples
    --------
    >>> taken = np.array([20.40, 20.42, 18.01, 18.01, 18.04])
    >>> found = repeats(taken, np.array([0, 0, 1, 1, 1]), np.array([0, 0]), owners=1)
    >>> found.degrees_of_freedom[0], round(float(found.standard_deviation[0]), 4)
    (np.int64(3), 0.0163)
    """
    size = np.bincount(in_set, minlength=len(owner))
    # Distances from the mean keep the digits that sums of squares would lose.
    total = np.bincount(in_set, weights=values, minlength=len(owner))
    mean = total / np.maximum(size, 1)
    squares = np.bincount(
        in_set, weights=(values - mean[in_set]) ** 2, minlength=len(owner)
    )
    freedom = np.maximum(size - 1, 0)
    pooled = np.bincount(owner, weights=squares, minlength=owners)
    degrees = np.bincount(owner, weights=freedom, minlength=owners).astype(np.int64)
    with np.errstate(invalid="ignore", divide="ignore"):
        deviation = np.sqrt(np.where(degrees > 0, pooled / degrees, np.nan))
    return Repeats(
        sets=np.bincount(owner, weights=size > 1, minlength=owners).astype(np.int64),
        degrees_of_freedom=degrees,
        standard_deviation=deviation,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Wear:
    """
    What tyres lost; ``(tyres,)`` throughout.

    Attributes
    ----------
    nights : ndarray
        Between a tyre's first and last reading.
    a_night : ndarray
        Diameter lost a night, mm: the slope of the straight line through its
        readings; NaN of a tyre that was read at one time only.
    """

    nights: FloatArray
    a_night: FloatArray


def wear_a_night(
    diameter_mm: FloatArray, nights: FloatArray, tyre: IntArray, *, tyres: int
) -> Wear:
    """
    Fit each tyre's wear: diameter against nights raced, least squares.

    Parameters
    ----------
    diameter_mm : (n,) ndarray
        Readings.
    nights : (n,) ndarray
        Nights that the tyre had raced by then.
    tyre : (n,) ndarray of int
        Which tyre was read, from 0.
    tyres : int
        How many tyres there are.

    Returns
    -------
    Wear
        Of every tyre.

    Examples
    --------
    >>> read = np.array([20.40, 20.36, 20.32, 18.00])
    >>> raced, tyre = np.array([0.0, 1.0, 2.0, 0.0]), np.array([0, 0, 0, 1])
    >>> wear_a_night(read, raced, tyre, tyres=2).a_night.round(3)
    array([0.04,  nan])
    """

    def total(weights: FloatArray) -> FloatArray:
        return np.bincount(tyre, weights=weights, minlength=tyres).astype(np.float64)

    count = np.maximum(total(np.ones_like(diameter_mm)), 1.0)
    off_size = diameter_mm - (total(diameter_mm) / count)[tyre]
    off_night = nights - (total(nights) / count)[tyre]
    spread = total(off_night**2)
    first, last = np.full(tyres, np.inf), np.full(tyres, -np.inf)
    np.minimum.at(first, tyre, nights)
    np.maximum.at(last, tyre, nights)
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = np.where(spread > 0, -total(off_night * off_size) / spread, np.nan)
    return Wear(nights=np.where(last > first, last - first, 0.0), a_night=slope)
