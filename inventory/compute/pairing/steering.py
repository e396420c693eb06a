"""
Two tyres of unequal size on one axle: which way the pair rolls, and how much.

Both wheels fixed to one axle roll freely as the frustum of a cone.  That compares
pairs; on the track the guide holds the car and the tyres scrub.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar, overload

import numpy as np
from numpy.typing import NDArray

from inventory.compute.arrays import Floats
from inventory.compute.errors import ComputeError

NO_TYRE = -1
_PATH_MM = 1000.0


class NotASizeError(ComputeError):
    """A diameter or the track is not positive."""

    code: ClassVar[str] = "not_a_size"


class Towards(StrEnum):
    """Side to which the pair turns: that of the smaller tyre."""

    LEFT = "left"
    RIGHT = "right"
    STRAIGHT = "straight"


_LEFT, _RIGHT, _STRAIGHT = range(len(Towards))


@dataclass(frozen=True, kw_only=True)
class Steer:
    """
    How one pair rolls.

    ``radius_mm`` is that of the path of the middle between the contacts, infinite
    for equal tyres; ``drift_mm_per_metre`` how far aside it is after 1 m of path.
    """

    radius_mm: float
    towards: Towards
    drift_mm_per_metre: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Steers:
    """
    How many pairs roll.

    As `Steer`; ``towards`` holds positions in `Towards`.  A pair that lacks a size
    has NaN, and `NO_TYRE` for ``towards``.
    """

    radius_mm: Floats
    towards: NDArray[np.int8]
    drift_mm_per_metre: Floats


@overload
def steer(
    left_diameter_mm: float, right_diameter_mm: float, track_mm: float
) -> Steer: ...
@overload
def steer(
    left_diameter_mm: Floats,
    right_diameter_mm: Floats,
    track_mm: float | Floats,
) -> Steers: ...
def steer(
    left_diameter_mm: float | Floats,
    right_diameter_mm: float | Floats,
    track_mm: float | Floats,
) -> Steer | Steers:
    """
    Tell how a pair of tyres of unequal size steers, rolling freely.

    Parameters
    ----------
    left_diameter_mm, right_diameter_mm : float or (n,) array of float
        Tyres, compared in whole nanometres; NaN in an array: no tyre.
    track_mm : float or (n,) array of float
        Distance of the tyres' middles along the axle.

    Returns
    -------
    Steer or Steers
        For the pair, or for all of them.

    Raises
    ------
    NotASizeError
        If a size is not positive, or not finite.

    Examples
    --------
    >>> pair = steer(12.3, 12.4, 34.5)
    >>> pair.towards.value, round(pair.drift_mm_per_metre, 2)
    ('left', 116.81)
    """
    many = _steers(left_diameter_mm, right_diameter_mm, track_mm)
    if many.radius_mm.ndim:
        return many
    return Steer(
        radius_mm=float(many.radius_mm),
        towards=list(Towards)[int(many.towards)],
        drift_mm_per_metre=float(many.drift_mm_per_metre),
    )


def _steers(
    left: float | Floats, right: float | Floats, track: float | Floats
) -> Steers:
    lefts, rights, tracks = np.broadcast_arrays(
        *(_sizes(size) for size in (left, right, track))
    )
    # Sizes are stored in nanometres; what floats add to a difference is no cone.
    excess = np.round(rights - lefts, 6)
    rho = np.abs(excess) / 2
    with np.errstate(divide="ignore"):
        radius = (lefts + rights) / 4 * np.hypot(tracks, rho) / rho
    lacking = np.isnan(radius)
    # R(1 - cos(1000/R)) would lose half the digits on a radius of many metres.
    bend = _PATH_MM / radius / 2
    straight = np.where(excess == 0, _STRAIGHT, np.where(excess > 0, _LEFT, _RIGHT))
    return Steers(
        radius_mm=radius,
        towards=np.where(lacking, NO_TYRE, straight).astype(np.int8),
        # R sin²(500/R) with 500/R taken out of the sine: no 0 times infinity.
        drift_mm_per_metre=_PATH_MM * np.sinc(bend / np.pi) * np.sin(bend),
    )


def _sizes(size: float | Floats) -> Floats:
    sizes = np.asarray(size, dtype=np.float64)
    absent = np.isnan(sizes) if sizes.ndim else np.False_
    bad = ~((np.isfinite(sizes) & (sizes > 0)) | absent)
    if bad.any():
        place = f" at {int(np.argmax(bad))}" if sizes.ndim else ""
        msg = f"{sizes.flat[np.argmax(bad)]}{place} is no size; expected more than 0 mm"
        raise NotASizeError(msg)
    return sizes
