"""
Shims: which of those in the box to stack.

Millimetres in and out, whole micrometres inside.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from inventory.compute.errors import ComputeError

#: A taller spacer is a slip of the decimal.
TALLEST_STACK_MM: Final = 30.0

_UM: Final = 1000
_THICKEST_MM: Final = 1000.0


class NotAShimError(ComputeError):
    """A shim is not a positive whole count of micrometres."""

    code = "not_a_shim"


class NotAStackError(ComputeError):
    """No stack of shims can be that high."""

    code = "not_a_stack"


@dataclass(frozen=True, kw_only=True)
class ShimStack:
    """The shims of one stack, thickest first, and their sum."""

    shims_mm: tuple[float, ...]
    total_mm: float


def choose_shims(
    target_mm: float, shims_mm: Sequence[float], *, copies: int = 1
) -> ShimStack:
    """
    Choose the shims that come nearest to a height.

    Exact, in whole micrometres.  Of equally near stacks the lower is taken, of
    equally high ones that with the fewest shims.

    Parameters
    ----------
    target_mm : float
        Height wanted, mm; 0 to 30.
    shims_mm : sequence of float
        Shims in the box, mm, each as often as there is one.
    copies : int, optional
        Equal stacks to build, 2 for left and right: each takes the same shims.

    Returns
    -------
    ShimStack
        One of the equal stacks.

    Raises
    ------
    NotAShimError
        If a shim is not positive, or thicker than a metre.
    NotAStackError
        If the height or the number of stacks makes none.

    Examples
    --------
    >>> choose_shims(0.5, [0.1, 0.2, 0.25, 0.3]).shims_mm
    (0.3, 0.2)
    """
    if not 0.0 <= target_mm <= TALLEST_STACK_MM or copies < 1:
        msg = (
            f"{copies} stacks of {target_mm:g} mm: one or more were expected, "
            f"0 to {TALLEST_STACK_MM:g} mm high."
        )
        raise NotAStackError(msg)
    target_um = round(target_mm * _UM)
    # A stack twice as high as wanted is no nearer than none at all.
    highest_um = max(2 * target_um - 1, 0)
    pool = _pool(shims_mm, copies, highest_um)
    fewest = np.full(highest_um + 1, len(pool) + 1, dtype=np.int64)
    fewest[0] = 0
    taken: list[NDArray[np.bool_]] = []
    for shim in pool:
        with_it = np.full_like(fewest, len(pool) + 1)
        with_it[shim:] = fewest[:-shim] + 1
        taken.append(with_it < fewest)
        fewest = np.minimum(fewest, with_it)
    heights = np.flatnonzero(fewest <= len(pool))
    # The first of equal distances is the lower one.
    best = int(heights[np.argmin(abs(heights - target_um))])
    return _stack(best, pool, taken)


def _pool(shims_mm: Sequence[float], copies: int, highest_um: int) -> list[int]:
    for shim in shims_mm:
        if not (0.0 < shim <= _THICKEST_MM and round(shim * _UM) > 0):
            msg = f"{shim:g} mm is no shim: 0.001 mm to 1 m was expected."
            raise NotAShimError(msg)
    counts = Counter(round(shim * _UM) for shim in shims_mm)
    return [
        shim
        for shim in sorted(counts)
        if shim <= highest_um
        for _ in range(min(counts[shim] // copies, highest_um // shim))
    ]


def _stack(total_um: int, pool: list[int], taken: list[NDArray[np.bool_]]) -> ShimStack:
    left, chosen = total_um, []
    for shim, took in zip(reversed(pool), reversed(taken), strict=True):
        if took[left]:
            chosen.append(shim)
            left -= shim
    shims = tuple(shim / _UM for shim in chosen)
    return ShimStack(shims_mm=shims, total_mm=total_um / _UM)
