"""
What flat jaws read over the tips of a gear.

Millimetres.  Over an even count of teeth two tips lie opposite each other.  Over an
odd one a jaw lies across two, on the inner corners of their tip lands, and the
other on one tip.
"""

import math
from typing import Final, overload

import numpy as np
from numpy.typing import ArrayLike

from inventory.compute.arrays import Floats
from inventory.compute.gears.spurs import (
    checked_length,
    checked_teeth,
)

#: The pressure angle that tip lands are worked out for, degrees.
_USUAL_ANGLE_DEG: Final = 20.0
#: Of a flat error that lies to one side only, about its end: 1 / √3.
_ONE_SIDED: Final = 1.0 / np.sqrt(3.0)


@overload
def true_outside_diameter_mm(reading_mm: float, teeth: int) -> float: ...
@overload
def true_outside_diameter_mm(reading_mm: ArrayLike, teeth: ArrayLike) -> Floats: ...
def true_outside_diameter_mm(reading_mm: ArrayLike, teeth: ArrayLike) -> float | Floats:
    """
    Correct a caliper's reading over the teeth of a gear.

    Over an odd count flat jaws read short by (1 + cos(pi / z - gamma)) / 2, gamma
    half the angle of a tip land.  An odd count is read at the least while the gear
    is rocked between the jaws, an even one at the largest.

    Parameters
    ----------
    reading_mm : (n,) array_like
        Reading over the teeth, mm.
    teeth : (n,) array_like of int
        Teeth.

    Returns
    -------
    float or (n,) ndarray
        True outside diameter, mm.

    Raises
    ------
    TeethError
        If a count of teeth is not a gear's.
    NotALengthError
        If a reading is not positive.

    Examples
    --------
    >>> round(true_outside_diameter_mm(4.270, 9), 3)
    4.366
    """
    z = checked_teeth(teeth)
    reading = checked_length(reading_mm, "Outside diameter")
    true = np.asarray(reading / _short(z, _land_rad(z)))
    return true if true.ndim else float(true)


@overload
def tip_form_u_mm(reading_mm: float, teeth: int) -> float: ...
@overload
def tip_form_u_mm(reading_mm: ArrayLike, teeth: ArrayLike) -> Floats: ...
def tip_form_u_mm(reading_mm: ArrayLike, teeth: ArrayLike) -> float | Floats:
    """
    Say what the shape of the tips leaves in doubt of the corrected diameter.

    Real tips are rounded: the truth lies between that of sharp corners, which is
    the value, and that of pointed teeth.  All of the error is on one side of the
    value (JCGM 100 4.3.7, the root of the mean square about the end).

    Parameters
    ----------
    reading_mm : (n,) array_like
        Reading over the teeth, mm.
    teeth : (n,) array_like of int
        Teeth.

    Returns
    -------
    float or (n,) ndarray
        Standard uncertainty, mm; 0 of an even count.

    Raises
    ------
    TeethError, NotALengthError
        As `true_outside_diameter_mm`.

    Examples
    --------
    >>> round(tip_form_u_mm(4.270, 9), 4), tip_form_u_mm(4.0, 8)
    (0.0213, 0.0)
    """
    z = checked_teeth(teeth)
    reading = checked_length(reading_mm, "Outside diameter")
    pointed = reading / _short(z, np.zeros(z.shape))
    u = np.asarray((pointed - reading / _short(z, _land_rad(z))) * _ONE_SIDED)
    return u if u.ndim else float(u)


def diameter_over_tips(
    reading_mm: float, random_mm: float, systematic_mm: float, teeth: int
) -> tuple[float, float, float]:
    """
    Make the diameter of a gear, with its doubt, of what flat jaws read over its teeth.

    How the tips are rounded is the gear's own doubt, so it is of the random part.

    Parameters
    ----------
    reading_mm, random_mm, systematic_mm : float
        Reading over the teeth and the two parts of its standard uncertainty, mm.
    teeth : int
        Teeth.

    Returns
    -------
    tuple of float
        Diameter and the two parts of its standard uncertainty, mm.

    Raises
    ------
    TeethError, NotALengthError
        As `true_outside_diameter_mm`.

    Examples
    --------
    >>> [round(one, 4) for one in diameter_over_tips(4.270, 0.01, 0.0, 9)]
    [4.3659, 0.0236, 0.0]
    >>> diameter_over_tips(4.0, 0.01, 0.02, 8)
    (4.0, 0.01, 0.02)
    """
    true = true_outside_diameter_mm(reading_mm, teeth)
    factor = true / reading_mm
    form = tip_form_u_mm(reading_mm, teeth)
    return true, math.hypot(random_mm * factor, form), systematic_mm * factor


def _short(z: Floats, land_rad: Floats) -> Floats:
    read = (1.0 + np.cos(np.pi / z - land_rad)) / 2.0
    return np.where(z % 2 == 1, read, 1.0)


def _land_rad(z: Floats) -> Floats:
    """Half the angle of a standard tooth's tip land; 0 where the flanks meet first."""
    alpha = np.radians(_USUAL_ANGLE_DEG)
    at_tip = np.arccos(z * np.cos(alpha) / (z + 2.0))
    narrowed = (np.tan(at_tip) - at_tip) - (np.tan(alpha) - alpha)
    land: Floats = np.maximum(np.pi / (2.0 * z) - narrowed, 0.0)
    return land
