"""
A crown and its pinion: how much of the teeth run on each other.

The pinion lies along the car, its shaft pointing at the axle; the crown's teeth
stand in a band round the axle.  Seen from the side a point of the pinion's face
at x ahead of the axle and z under it meets the crown at the radius √(x² + z²).
"""

from dataclasses import dataclass

import numpy as np

from inventory.compute.arrays import Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class CrownMesh:
    """
    Crowns and pinions, ``(rows,)`` each, mm.

    ``shaft_end_mm`` is from the axle's centre forward to the shaft's end,
    ``shaft_length_mm`` its bare length, ``pinion_length_mm`` what the pinion takes
    of it, its face towards the axle; ``axle_over_shaft_mm`` the axle's height over
    the shaft's.
    """

    outside_diameter_mm: Floats
    tooth_band_mm: Floats
    pinion_face_mm: Floats
    pinion_length_mm: Floats
    shaft_end_mm: Floats
    shaft_length_mm: Floats
    axle_over_shaft_mm: Floats


def covered_share(crown: CrownMesh) -> Floats:
    """
    Say which share of the narrower face runs on the other, at best.

    The pinion may sit anywhere on the shaft that holds all of it.

    Parameters
    ----------
    crown : CrownMesh
        Sizes.

    Returns
    -------
    (rows,) ndarray
        0 to 1; NaN where a size is not known.

    Examples
    --------
    >>> one = np.ones(1)
    >>> mesh = CrownMesh(
    ...     outside_diameter_mm=17.0 * one,
    ...     tooth_band_mm=2.5 * one,
    ...     pinion_face_mm=3.0 * one,
    ...     pinion_length_mm=3.0 * one,
    ...     shaft_end_mm=6.5 * one,
    ...     shaft_length_mm=5.0 * one,
    ...     axle_over_shaft_mm=0.0 * one,
    ... )
    >>> covered_share(mesh)
    array([0.8])
    """
    outer = crown.outside_diameter_mm / 2.0
    inner = outer - crown.tooth_band_mm
    face, aside = crown.pinion_face_mm, crown.axle_over_shaft_mm
    first = crown.shaft_end_mm
    last = np.maximum(first + crown.shaft_length_mm - crown.pinion_length_mm, first)
    # Moved along the shaft the overlap grows until one end of the face meets one end
    # of the band, and falls after the other two have met: the best is at one of them.
    meets = (_along(inner, aside), _along(outer, aside) - face)
    overlaps = []
    for near in (np.clip(meet, first, last) for meet in meets):
        low = np.maximum(np.hypot(near, aside), inner)
        high = np.minimum(np.hypot(near + face, aside), outer)
        overlaps.append(high - low)
    best = np.maximum(np.maximum(*overlaps), 0.0)
    return np.asarray(best / np.minimum(face, crown.tooth_band_mm))


def _along(radius_mm: Floats, aside_mm: Floats) -> Floats:
    return np.sqrt(np.maximum(radius_mm**2 - aside_mm**2, 0.0))
