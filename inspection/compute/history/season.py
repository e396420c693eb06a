"""
A season's figures: medians by group, wear by night, the spread of repeats.

Arrays of readings or findings; values in their quantity's unit.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from inventory.compute.arrays import Floats, Ints


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

    count: Ints
    median: Floats
    least: Floats


def medians(values: Floats, group: Ints, *, groups: int) -> Medians:
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
    >>> middles = medians(np.array([3.0, 1.0, 2.0]), np.array([0, 0, 2]), groups=3)
    >>> middles.median, middles.count
    (array([ 2., nan,  2.]), array([2, 0, 1]))
    """
    count: Ints = np.bincount(group, minlength=groups)
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


@dataclass(frozen=True, kw_only=True)
class Repeats:
    """
    How repeats of one reading spread; two of them add up to both together.

    Attributes
    ----------
    sets : int
        Sets of two or more readings.
    degrees_of_freedom : int
        Readings less sets.
    squares : float
        Squared distances of the readings from their set's mean, summed.
    """

    sets: int = 0
    degrees_of_freedom: int = 0
    squares: float = 0.0

    def __add__(self, other: "Repeats") -> "Repeats":
        return Repeats(
            sets=self.sets + other.sets,
            degrees_of_freedom=self.degrees_of_freedom + other.degrees_of_freedom,
            squares=self.squares + other.squares,
        )

    @property
    def standard_deviation(self) -> float:
        """Pooled over the sets (JCGM 100, 4.2.4); NaN without any."""
        freedom = self.degrees_of_freedom
        return math.sqrt(self.squares / freedom) if freedom else math.nan

    def over(self, usual: "Repeats") -> "Repeats":
        """
        Measure by the usual spread, so that quantities can be pooled together.

        Parameters
        ----------
        usual : Repeats
            Of the same quantity.

        Returns
        -------
        Repeats
            Squares in units of the usual variance; nothing where that is nothing.
        """
        if not usual.squares:
            return Repeats()
        variance = usual.squares / usual.degrees_of_freedom
        return replace(self, squares=self.squares / variance)


def repeats(sets: Iterable[Sequence[float]]) -> Repeats:
    """
    Pool the spread of repeated readings: which car it was plays no part.

    Parameters
    ----------
    sets : iterable of sequence of float
        Readings of one thing each, in the quantity's unit.

    Returns
    -------
    Repeats
        A set of a single reading says nothing.

    Examples
    --------
    >>> scatter = repeats([[20.40, 20.42], [18.01, 18.01, 18.04], [19.0]])
    >>> scatter.sets, scatter.degrees_of_freedom, round(scatter.standard_deviation, 4)
    (2, 3, 0.0163)
    """
    total = Repeats()
    for readings in sets:
        if len(readings) > 1:
            # Distances from the mean keep the digits that sums of squares would lose.
            mean = math.fsum(readings) / len(readings)
            total += Repeats(
                sets=1,
                degrees_of_freedom=len(readings) - 1,
                squares=math.fsum((one - mean) ** 2 for one in readings),
            )
    return total


@dataclass(frozen=True, kw_only=True, eq=False)
class CompoundWear:
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

    nights: Floats
    a_night: Floats


def wear_a_night(
    diameter_mm: Floats, nights: Floats, tyre: Ints, *, tyres: int
) -> CompoundWear:
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
    CompoundWear
        Of every tyre.

    Examples
    --------
    >>> read = np.array([20.40, 20.36, 20.32, 18.00])
    >>> raced, tyre = np.array([0.0, 1.0, 2.0, 0.0]), np.array([0, 0, 0, 1])
    >>> wear_a_night(read, raced, tyre, tyres=2).a_night.round(3)
    array([0.04,  nan])
    """

    def total(weights: Floats) -> Floats:
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
    return CompoundWear(nights=np.where(last > first, last - first, 0.0), a_night=slope)
