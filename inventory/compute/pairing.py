"""
Which of these are really pairs: the public interface.

Every way to pair under one name.  Sizes are whole micrometres, answers are
positions; the same readings give the same pairs.
"""

from typing import ClassVar, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

from inventory.compute.errors import ComputeError
from inventory.compute.features import (
    FeatureMatching,
    NotAMeasureError,
    NotATableError,
    pair_by_features,
)
from inventory.compute.links import TooManyLinksError
from inventory.compute.motors import MotorSets, match_motors
from inventory.compute.neighbours import Matching, pair_by_size
from inventory.compute.rejects import RejectLimits, RejectReason, Rejects, find_rejects
from inventory.compute.sets import NotASetSizeError, Sets, match_sets
from inventory.compute.sizes import (
    NoGroupError,
    NotALimitError,
    NotANumberError,
    NotARowError,
    NotASizeError,
    NotWholeError,
)
from inventory.compute.stagger import pair_with_stagger
from inventory.compute.truing import TruingPlan, plan_truing

__all__ = [
    "FeatureMatching",
    "Matching",
    "MotorSets",
    "NoGroupError",
    "NotADifferenceError",
    "NotALimitError",
    "NotAMeasureError",
    "NotANumberError",
    "NotARowError",
    "NotASetSizeError",
    "NotASizeError",
    "NotATableError",
    "NotWholeError",
    "RejectLimits",
    "RejectReason",
    "Rejects",
    "Sets",
    "TooManyLinksError",
    "TruingPlan",
    "find_rejects",
    "match_motors",
    "match_sets",
    "pair_by_features",
    "pair_by_size",
    "pair_with_stagger",
    "plan_truing",
    "within_probability",
]


class NotADifferenceError(ComputeError):
    """A difference is no number, or its uncertainty or the tolerance negative."""

    code: ClassVar[str] = "not_a_difference"


@overload
def within_probability(
    difference_mm: float, u_mm: float, *, tolerance_mm: float
) -> float: ...
@overload
def within_probability(
    difference_mm: ArrayLike, u_mm: ArrayLike, *, tolerance_mm: float
) -> float | NDArray[np.float64]: ...
def within_probability(
    difference_mm: ArrayLike, u_mm: ArrayLike, *, tolerance_mm: float
) -> float | NDArray[np.float64]:
    """
    Give the chance that a pair's true difference is inside the tolerance.

    Normal, as JCGM 106:2012 clause 7 has it.  Both tyres off one gauge share its
    systematic error, which drops out: the uncertainty is that of the two random
    parts, ``hypot(random, random)``.

    Parameters
    ----------
    difference_mm : float or array_like
        Measured difference of the two, either sign.
    u_mm : float or array_like
        Standard uncertainty of the difference; at 0 the answer is 0 or 1.
    tolerance_mm : float
        Widest difference inside a pair, itself allowed.

    Returns
    -------
    float, or ndarray where the difference or the uncertainty is one

    Raises
    ------
    NotADifferenceError
        If one is not finite, or the uncertainty or the tolerance is negative.

    Examples
    --------
    >>> round(within_probability(0.05, 0.01, tolerance_mm=0.05), 3)
    0.5
    """
    difference = np.abs(np.asarray(difference_mm, dtype=np.float64))
    u = np.asarray(u_mm, dtype=np.float64)
    known = np.isfinite(difference).all() and np.isfinite(u).all()
    if not (known and u.min(initial=0) >= 0 and 0 <= tolerance_mm < np.inf):
        text = "a difference is finite, and neither uncertainty nor tolerance negative"
        raise NotADifferenceError(text)
    # 20.1 - 20.0 is more than 0.1: the edge is compared at a millionth.
    inside = np.round(difference, 6) <= round(tolerance_mm, 6)
    spread = np.where(u > 0, u, 1.0)
    chance = np.where(
        u > 0,
        ndtr((tolerance_mm - difference) / spread)
        - ndtr((-tolerance_mm - difference) / spread),
        inside,
    )
    return chance if chance.ndim else float(chance)
