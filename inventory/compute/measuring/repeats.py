"""Repeated readings as a table: repeats along the last axis, NaN not taken."""

from dataclasses import dataclass
from typing import ClassVar, Final

import numpy as np
from numpy.typing import ArrayLike

from inventory.compute.arrays import Floats, Ints
from inventory.compute.errors import ComputeError

_LARGEST: Final = 1e12


class NotAReadingError(ComputeError):
    """A reading is infinite, or absurdly large."""

    code: ClassVar[str] = "not_a_reading"


class WrongShapeError(ComputeError):
    """Readings of one part are expected, or sections by angles, and others came."""

    code: ClassVar[str] = "wrong_shape"


@dataclass(frozen=True, kw_only=True, eq=False)
class Repeats:
    """
    How many readings there are, their mean, and the squares of their scatter.

    ``squares`` is the sum of the squared distances from ``mean``.  No reading:
    0, NaN and 0.
    """

    count: Ints
    mean: Floats
    squares: Floats


def as_readings(readings: ArrayLike, *, axes: int = 0) -> Floats:
    """
    Take readings as an array.

    Parameters
    ----------
    readings : array_like of float
        NaN for those not taken.
    axes : int, optional
        Fewest axes that it must have.

    Returns
    -------
    array of float
        The same.

    Raises
    ------
    NotAReadingError, WrongShapeError
        If one is infinite, or axes are wanting.

    Examples
    --------
    >>> as_readings([12, 12.5])
    array([12. , 12.5])
    """
    try:
        table = np.asarray(readings, dtype=np.float64)
    except (TypeError, ValueError) as ragged:
        msg = "expected as many readings, all numbers, along each axis"
        raise WrongShapeError(msg) from ragged
    if table.ndim < axes:
        msg = f"expected readings along {axes} axes or more, not {table.ndim}"
        raise WrongShapeError(msg)
    # The square of an absurd one is no number.
    if (np.abs(table) > _LARGEST).any():
        msg = f"a reading is infinite, or beyond {_LARGEST:g}"
        raise NotAReadingError(msg)
    return table


def summarise(table: Floats) -> Repeats:
    """
    Count the readings taken, and take their mean and their scatter about it.

    Parameters
    ----------
    table : (..., k) array of float
        Readings, NaN for those not taken.

    Returns
    -------
    Repeats
        Arrays of shape ``(...)``.

    Examples
    --------
    >>> summarise(np.array([[9.5, 9.75, np.nan], [12.0, 12.5, 13.0]])).mean
    array([ 9.625, 12.5  ])
    """
    count = np.asarray((~np.isnan(table)).sum(axis=-1))
    divisor = nan_for_none(count)
    mean = np.nansum(table, axis=-1) / divisor
    away = table - mean[..., None]
    # The second pass takes back what the first sum rounded off.
    mean = mean + np.nansum(away, axis=-1) / divisor
    return Repeats(count=count, mean=mean, squares=np.nansum(away**2, axis=-1))


def nan_for_none(count: Ints) -> Floats:
    """
    Give the counts as divisors: none taken leaves a quotient that is NaN.

    Parameters
    ----------
    count : array of int
        Counts.

    Returns
    -------
    array of float
        NaN for 0.

    Examples
    --------
    >>> nan_for_none(np.array([2, 0]))
    array([ 2., nan])
    """
    return np.where(count > 0, count, np.nan)
