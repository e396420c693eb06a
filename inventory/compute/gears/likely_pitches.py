"""
The pitch of many unmarked gears at once, where their size leaves no doubt.

Millimetres; the same likelihood as `identify_pitch`, on arrays.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inventory.compute.gears.pitches import CUTTING_ALLOWANCE_MM, PITCHES, WIDEST_MISS

#: Less than this is a guess, and a guess is not written down as a pitch.
SURE: Final = 0.95


def sure_modules_mm(
    teeth: ArrayLike, *, outside_diameter_mm: ArrayLike, u_mm: ArrayLike
) -> NDArray[np.float64]:
    """
    Say which module gears must have, from their teeth and outside diameter.

    Never for a crown, whose outside diameter says nothing of its teeth.

    Parameters
    ----------
    teeth : (n,) array_like
        Teeth.
    outside_diameter_mm : (n,) array_like
        True outside diameters, mm; NaN not known.
    u_mm : (n,) array_like
        Their standard uncertainties, mm.

    Returns
    -------
    (n,) ndarray
        Module, mm; NaN where no pitch explains the size, or several do.

    Examples
    --------
    >>> sure_modules_mm([9, 28], outside_diameter_mm=[4.37, 12.0], u_mm=0.0115)
    array([nan, 0.4])
    """
    count = np.asarray(teeth, dtype=np.float64)[:, None] + 2.0
    diameter = np.asarray(outside_diameter_mm, dtype=np.float64)[:, None]
    width = np.hypot(np.asarray(u_mm, dtype=np.float64), CUTTING_ALLOWANCE_MM)
    width = np.broadcast_to(width, len(count))[:, None]
    modules = np.array([pitch.module_mm for pitch in PITCHES])
    miss = abs(diameter - modules * count) / width
    nearest = miss.min(axis=1, keepdims=True)
    likelihood = np.exp((nearest**2 - miss**2) / 2.0)
    best = miss.argmin(axis=1)
    share = 1.0 / likelihood.sum(axis=1)
    sure = (nearest[:, 0] <= WIDEST_MISS) & (share >= SURE)
    return np.where(sure, modules[best], np.nan)
