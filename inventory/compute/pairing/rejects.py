"""
Tyres that are set aside before pairing, each with its reasons.

Millimetres; a row of tyres in, a table of reasons out.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inventory.compute.errors import ComputeError
from inventory.compute.numbers import slip_of_the_decimal


class RejectReason(StrEnum):
    """Why a tyre is not paired as it is."""

    OUT_OF_ROUND = "out of round"
    TAPER = "taper"
    SINGLE_READING = "too few readings"
    SLIP_OF_THE_DECIMAL = "slip of the decimal"
    IMPLAUSIBLE = "outside the plausible range"


class NotATyreRowError(ComputeError):
    """The rows of readings differ in length, or a limit is negative."""

    code: ClassVar[str] = "not_a_tyre_row"


@dataclass(frozen=True, kw_only=True)
class RejectLimits:
    """
    What a tyre must keep to be paired.

    Attributes
    ----------
    low_mm, high_mm : float
        Plausible range of the diameter, both ends inside.
    out_of_round_mm, taper_mm : float
        The most allowed, itself allowed; taper either way.
    reading_count : int
        The fewest readings.
    """

    low_mm: float
    high_mm: float
    out_of_round_mm: float = np.inf
    taper_mm: float = np.inf
    reading_count: int = 1


@dataclass(frozen=True, kw_only=True, eq=False)
class Rejects:
    """
    Who may be paired, and why not.

    Attributes
    ----------
    eligible : (k,) ndarray of int64
        Positions without a reason against them, ascending.
    reasons : (n, 5) ndarray of bool
        A column for each of `RejectReason`, in its order.
    suggestion_mm : (n,) ndarray of float64
        What a slip of the decimal was meant to be; NaN for none.
    """

    eligible: NDArray[np.int64]
    reasons: NDArray[np.bool_]
    suggestion_mm: NDArray[np.float64]

    def of(self, position: int) -> tuple[RejectReason, ...]:
        """
        List the reasons against one tyre.

        Parameters
        ----------
        position : int
            Which tyre.

        Returns
        -------
        tuple of RejectReason
            Empty for an eligible one.
        """
        words = zip(RejectReason, self.reasons[position], strict=True)
        return tuple(reason for reason, holds in words if holds)


def find_rejects(
    diameter_mm: ArrayLike,
    *,
    out_of_round_mm: ArrayLike,
    taper_mm: ArrayLike,
    reading_count: ArrayLike,
    limits: RejectLimits,
) -> Rejects:
    """
    Set aside the tyres that pairing by size would do no justice to.

    Parameters
    ----------
    diameter_mm : (n,) array_like of float
        Mean diameter of each tyre; NaN counts as implausible.
    out_of_round_mm, taper_mm : (n,) array_like of float
        Form as measured; NaN where it was not, which is no reason.
    reading_count : (n,) array_like of int
        How many readings the diameter rests on.
    limits : RejectLimits
        What is allowed.

    Returns
    -------
    Rejects

    Raises
    ------
    NotATyreRowError
        If the rows differ in length, or a limit is negative or the range empty.

    Examples
    --------
    >>> rejects = find_rejects(
    ...     [20.01, 2.002, 20.03],
    ...     out_of_round_mm=[0.01, 0.02, 0.09],
    ...     taper_mm=[0.00, -0.01, -0.08],
    ...     reading_count=[3, 3, 3],
    ...     limits=RejectLimits(
    ...         low_mm=15, high_mm=25, out_of_round_mm=0.05, taper_mm=0.05
    ...     ),
    ... )
    >>> rejects.eligible, [str(reason) for reason in rejects.of(2)]
    (array([0]), ['out of round', 'taper'])
    >>> rejects.suggestion_mm
    array([  nan, 20.02,   nan])
    """
    rows = (diameter_mm, out_of_round_mm, taper_mm, reading_count)
    diameter, out_of_round, taper, count = (
        np.asarray(row, dtype=np.float64) for row in rows
    )
    if len({row.shape for row in (diameter, out_of_round, taper, count)}) > 1:
        text = "each tyre needs a diameter, its form and a number of readings"
        raise NotATyreRowError(text)
    if not _limits_hold(diameter, limits):
        text = "limits are not negative, the range not empty, and tyres come as one row"
        raise NotATyreRowError(text)
    suggestion = slip_of_the_decimal(diameter, low=limits.low_mm, high=limits.high_mm)
    plausible = (diameter >= limits.low_mm) & (diameter <= limits.high_mm)
    slipped = ~np.isnan(suggestion)
    reasons = np.stack(
        [
            np.round(out_of_round, 6) > round(limits.out_of_round_mm, 6),
            np.round(np.abs(taper), 6) > round(limits.taper_mm, 6),
            count < limits.reading_count,
            slipped,
            ~plausible & ~slipped,
        ],
        axis=1,
    )
    return Rejects(
        eligible=np.flatnonzero(~reasons.any(axis=1)),
        reasons=reasons,
        suggestion_mm=suggestion,
    )


def _limits_hold(diameter: NDArray[np.float64], limits: RejectLimits) -> bool:
    return (
        diameter.ndim == 1
        and limits.out_of_round_mm >= 0
        and limits.taper_mm >= 0
        and limits.low_mm <= limits.high_mm
    )
