"""
Gearing: how two spur gears mesh, the ratio and the way a motor turn makes.

Millimetres and degrees at the edges, radians inside a function.  No cars, no
database, no clock.  Scalars in give scalars and words out; arrays in give
arrays and ``int8`` codes, the place of the word in its enumeration; NaN in an
array is a size not known and gives NaN and code -1.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final, Generic, TypeVar, cast, overload

import numpy as np
from numpy.typing import ArrayLike

from inventory.compute.arrays import Codes, Floats
from inventory.compute.errors import ComputeError
from inventory.compute.gears.generated import involute_start
from inventory.compute.gears.pitches import (
    NO_STANDARD_PITCH,
    PITCHES,
    Pitch,
    PitchCandidate,
    identify_pitch,
)
from inventory.compute.gears.spurs import (
    LONGEST_MM,
    NotALengthError,
    NotAPitchError,
    Number,
    Spur,
    TeethError,
    TeethPair,
    checked_length,
    span_mm,
    spur,
    teeth_for_centre_distance,
)
from inventory.compute.gears.tips import true_outside_diameter_mm

__all__ = (
    "NO_STANDARD_PITCH",
    "PITCHES",
    "Mesh",
    "MeshState",
    "NotALengthError",
    "NotAPitchError",
    "Pitch",
    "PitchCandidate",
    "Spur",
    "TeethError",
    "TeethPair",
    "UnlikeTeethError",
    "centre_distance_for_backlash",
    "identify_pitch",
    "mesh",
    "rollout_mm",
    "span_mm",
    "spur",
    "teeth_for_centre_distance",
    "true_outside_diameter_mm",
)


#: Modules nearer than this, relative, run together.
SAME_MODULE: Final = 0.005
#: A size not known, among the codes of an enumeration.
UNKNOWN_CODE: Final = -1
#: Figures are compared in whole nanometres, as limits are.
_DECIMALS: Final = 6
#: Newton on a convex function from its far side: six steps reach the last digit.
_NEWTON_STEPS: Final = 6


class UnlikeTeethError(ComputeError):
    """Two gears with different teeth cannot run together."""

    code = "unlike_teeth"


class MeshState(StrEnum):
    """How two gears stand to each other at a centre distance."""

    GOOD = "good"
    JAMMED = "jammed"
    OUT_OF_MESH = "out of mesh"


_State = TypeVar("_State", MeshState, Codes)


@dataclass(frozen=True, kw_only=True)
class Mesh(Generic[Number, _State]):
    """Two gears at a centre distance, or an array of pairs."""

    standard_centre_distance_mm: Number
    tight_centre_distance_mm: Number
    centre_distance_mm: Number
    working_pressure_angle_deg: Number
    pinion_tip_diameter_mm: Number
    gear_tip_diameter_mm: Number
    contact_ratio: Number
    enlarged_contact_ratio: Number
    backlash_mm: Number
    ratio: Number
    state: _State


def _involute(angle_rad: Floats) -> Floats:
    return np.tan(angle_rad) - angle_rad


def _angle_of_involute(involute: Floats) -> Floats:
    # tan a - a > a^3 / 3, so the first guess lies above the root, and Newton on
    # this convex function comes down to it from there.
    angle = np.cbrt(3.0 * involute)
    for _ in range(_NEWTON_STEPS):
        tan = np.tan(angle)
        angle -= (tan - angle - involute) / tan**2
    return angle


@dataclass(frozen=True, kw_only=True)
class _Couple:
    """What two gears are to each other before they are set apart."""

    cosine: Floats
    base_pitch_mm: Floats
    standard_mm: Floats
    tight_mm: Floats
    tight_involute: Floats
    tight_angle: Floats
    shortening_mm: Floats


def _couple(pinion: Spur[Number], gear: Spur[Number]) -> _Couple:
    m1, m2 = np.asarray(pinion.module_mm), np.asarray(gear.module_mm)
    angle, angle2 = (np.asarray(g.pressure_angle_deg) for g in (pinion, gear))
    if np.any((abs(m1 - m2) > SAME_MODULE * m1) | (abs(angle - angle2) > 1e-9)):
        msg = "Two gears of different pitch or pressure angle do not run together."
        raise UnlikeTeethError(msg)
    alpha = np.radians(angle)
    cosine = np.cos(alpha)
    teeth_sum = np.asarray(pinion.teeth + gear.teeth, dtype=np.float64)
    shift_sum = np.asarray(pinion.shift + gear.shift, dtype=np.float64)
    standard = np.asarray(pinion.pitch_diameter_mm + gear.pitch_diameter_mm) / 2.0
    involute = _involute(alpha) + 2.0 * np.tan(alpha) * shift_sum / teeth_sum
    if np.any(involute <= 0.0):
        msg = "Gears shifted so deep into each other have no distance to run at."
        raise UnlikeTeethError(msg)
    shifted = shift_sum.astype(bool)  # else the cutter's angle, to the last digit
    tight_angle = np.where(shifted, _angle_of_involute(involute), alpha)
    tight = np.where(shifted, standard * cosine / np.cos(tight_angle), standard)
    return _Couple(
        cosine=cosine,
        base_pitch_mm=np.pi * m1 * cosine,
        standard_mm=standard,
        tight_mm=tight,
        tight_involute=_involute(tight_angle),
        tight_angle=tight_angle,
        # Shifted tips are cut back so that the clearance below them stays.
        shortening_mm=m1 * shift_sum - (tight - standard),
    )


def _contact_ratio(
    couple: _Couple, gears: tuple[Spur[Floats], Spur[Floats]], angle: Floats
) -> Floats:
    """Contact ratio of gears as a rack generates them, tips cut back for shift."""
    path = np.zeros(())
    for mine, other in (gears, gears[::-1]):
        base, tip = mine.base_diameter_mm, mine.tip_diameter_mm
        tip = np.asarray(tip) - 2.0 * couple.shortening_mm
        reach = np.sqrt(np.maximum(tip**2 - np.asarray(base) ** 2, 0.0)) / 2.0
        # Below the start of the other's involute there is nothing to touch.
        start = np.asarray(other.module_mm) * involute_start(
            other.teeth,
            pressure_angle_rad=np.radians(other.pressure_angle_deg),
            shift=other.shift,
        )
        its_base = np.asarray(other.base_diameter_mm) / 2.0
        mine_base = np.asarray(base) / 2.0
        most = its_base * np.tan(angle) - start
        path = path + np.minimum(reach - mine_base * np.tan(angle), most)
    return np.maximum(path / couple.base_pitch_mm, 0.0)


def _enlarged(
    pinion: Spur[Floats], gear: Spur[Floats]
) -> tuple[Spur[Floats], Spur[Floats]]:
    """Enlarge the pinion until nothing undercuts it, at the same distance."""
    angle = np.radians(pinion.pressure_angle_deg)
    # The rack's straight flank is a module deep: (1 - x) = (z / 2) sin^2(a).
    free = 1.0 - np.asarray(pinion.teeth) / 2.0 * np.sin(angle) ** 2
    more = np.maximum(free - pinion.shift, 0.0)
    # The gear is cut as much smaller, so that the distance stays.
    return _shifted(pinion, more), _shifted(gear, -more)


def _shifted(gear: Spur[Floats], more: Floats) -> Spur[Floats]:
    grown = 2.0 * np.asarray(gear.module_mm) * more
    return replace(
        gear,
        shift=np.asarray(gear.shift) + more,
        tip_diameter_mm=np.asarray(gear.tip_diameter_mm) + grown,
        root_diameter_mm=np.asarray(gear.root_diameter_mm) + grown,
    )


@overload
def mesh(  # type: ignore[overload-overlap]
    pinion: Spur[float],
    gear: Spur[float],
    *,
    centre_distance_mm: float | None = None,
) -> Mesh[float, MeshState]: ...
@overload
def mesh(
    pinion: Spur[float] | Spur[Floats],
    gear: Spur[float] | Spur[Floats],
    *,
    centre_distance_mm: ArrayLike | None = None,
) -> Mesh[Floats, Codes]: ...
def mesh(
    pinion: Spur[float] | Spur[Floats],
    gear: Spur[float] | Spur[Floats],
    *,
    centre_distance_mm: ArrayLike | None = None,
) -> Mesh[float, MeshState] | Mesh[Floats, Codes]:
    """
    Set two spur gears at a centre distance and say how they run.

    The path of contact ends where the other gear's involute begins.  A pinion of
    few teeth that a standard rack cut is undercut and loses by it; what runs well
    in its place is one that was enlarged, with the gear cut as much smaller.
    Nobody sees from the count which it is: both are given.  Jammed and out of mesh
    are reported, not raised.

    Parameters
    ----------
    pinion, gear : Spur
        From `spur`; of one pitch and pressure angle.
    centre_distance_mm : (n,) array_like, optional
        Distance of the two axes, mm; without it the one with no backlash.

    Returns
    -------
    Mesh
        ``standard_centre_distance_mm`` is half the sum of the pitch diameters,
        ``tight_centre_distance_mm`` the distance of no backlash (the same for
        gears without shift); tips as cut back for shift; ``backlash_mm`` is
        transverse, on the working pitch circles, negative when jammed;
        ``contact_ratio`` is that of the gears as generated by the rack of ISO 53,
        ``enlarged_contact_ratio`` that of a pinion enlarged just enough not to be
        undercut, the larger of the two; both are NaN when jammed; out of mesh is
        what even that does not carry; ``ratio`` is gear over pinion.

    Raises
    ------
    UnlikeTeethError
        If modules differ by more than 0.5 % or pressure angles differ.
    NotALengthError
        If the centre distance is not positive.

    Examples
    --------
    >>> pair = mesh(spur(12, module_mm=3.0), spur(24, module_mm=3.0))
    >>> print(pair.standard_centre_distance_mm, pair.state)
    54.0 good
    >>> round(pair.contact_ratio, 3), round(pair.enlarged_contact_ratio, 3)
    (1.275, 1.465)
    """
    p, g = cast("Spur[Floats]", pinion), cast("Spur[Floats]", gear)
    couple = _couple(p, g)
    a = couple.tight_mm
    if centre_distance_mm is not None:
        a = checked_length(centre_distance_mm, "Centre distance")
    gap = np.round(a, _DECIMALS) - np.round(couple.tight_mm, _DECIMALS)
    touching = abs(gap) < 0.5 * 10.0**-_DECIMALS
    cos_working = couple.standard_mm * couple.cosine / a
    has_angle = cos_working < 1.0
    angle = np.arccos(np.where(has_angle, cos_working, np.nan))
    angle = np.where(touching, couple.tight_angle, angle)
    backlash = 2.0 * a * (_involute(angle) - couple.tight_involute)
    tips = [np.asarray(s.tip_diameter_mm) - 2 * couple.shortening_mm for s in (p, g)]
    jammed = (gap < 0.0) & ~touching
    contact = np.where(jammed, np.nan, _contact_ratio(couple, (p, g), angle))
    better = _contact_ratio(couple, _enlarged(p, g), angle)
    better = np.where(jammed, np.nan, np.maximum(contact, better))
    state = np.where(jammed, 1, np.where(better < 1.0, 2, 0))
    state = np.where(np.isnan(gap), UNKNOWN_CODE, state)
    columns = {
        "standard_centre_distance_mm": couple.standard_mm,
        "tight_centre_distance_mm": couple.tight_mm,
        "centre_distance_mm": a,
        "working_pressure_angle_deg": np.degrees(angle),
        "pinion_tip_diameter_mm": tips[0],
        "gear_tip_diameter_mm": tips[1],
        "contact_ratio": contact,
        "enlarged_contact_ratio": better,
        "backlash_mm": np.where(touching, 0.0, backlash),
        "ratio": np.asarray(g.teeth / p.teeth),
    }
    if state.ndim:
        shaped = {k: np.broadcast_to(v, state.shape) for k, v in columns.items()}
        return Mesh[Floats, Codes](**shaped, state=state.astype(np.int8))
    plain = {name: float(column) for name, column in columns.items()}
    word = tuple(MeshState)[int(state)]
    return Mesh[float, MeshState](**plain, state=word)


def centre_distance_for_backlash(
    pinion: Spur[float] | Spur[Floats],
    gear: Spur[float] | Spur[Floats],
    *,
    backlash_mm: ArrayLike,
) -> Floats:
    """
    Find the centre distance that gives a wanted backlash.

    Parameters
    ----------
    pinion, gear : Spur
        From `spur`; of one pitch and pressure angle.
    backlash_mm : (n,) array_like
        Transverse backlash, mm; not negative.

    Returns
    -------
    (n,) ndarray
        Centre distance, mm.

    Raises
    ------
    UnlikeTeethError
        If the gears are not of one pitch and pressure angle.
    NotALengthError
        If the backlash is more than a kilometre.

    Examples
    --------
    >>> pair = spur(12, module_mm=3.0), spur(24, module_mm=3.0)
    >>> centre_distance_for_backlash(*pair, backlash_mm=0.0).item()
    54.0
    """
    p, g = cast("Spur[Floats]", pinion), cast("Spur[Floats]", gear)
    couple = _couple(p, g)
    reach = 2.0 * couple.standard_mm * couple.cosine
    target = np.asarray(backlash_mm, dtype=np.float64)
    if (np.abs(target) > LONGEST_MM).any():
        msg = f"Backlash: at most {LONGEST_MM:g} mm was expected."
        raise NotALengthError(msg)
    # The straight-line answer of the handbooks, 2 da tan(a), is the first guess;
    # backlash is convex in the angle, so Newton lands above and comes down.
    guess = couple.tight_mm + target / (2.0 * np.tan(couple.tight_angle))
    angle = np.arccos(couple.standard_mm * couple.cosine / guess)
    for _ in range(_NEWTON_STEPS):
        tan, cos = np.tan(angle), np.cos(angle)
        over = tan - angle - couple.tight_involute
        error = reach * over / cos - target
        angle = angle - error * cos / (reach * tan * (tan + over))
    distance = couple.standard_mm * couple.cosine / np.cos(angle)
    return np.where(target > 0.0, distance, couple.tight_mm)


@overload
def rollout_mm(tyre_diameter_mm: float, ratio: float) -> float: ...
@overload
def rollout_mm(tyre_diameter_mm: ArrayLike, ratio: ArrayLike) -> Floats: ...
def rollout_mm(tyre_diameter_mm: ArrayLike, ratio: ArrayLike) -> float | Floats:
    """
    Say how far the car moves for one turn of the motor.

    Parameters
    ----------
    tyre_diameter_mm : (n,) array_like
        Tyre diameter, mm.
    ratio : (n,) array_like
        Teeth of the gear over teeth of the pinion.

    Returns
    -------
    float or (n,) ndarray
        Distance, mm a motor turn.

    Raises
    ------
    NotALengthError
        If the diameter or the ratio is not positive.

    Examples
    --------
    >>> round(rollout_mm(20.0, 4.0), 3)
    15.708
    """
    diameter = checked_length(tyre_diameter_mm, "Tyre diameter")
    rollout = np.pi * diameter / checked_length(ratio, "Ratio")
    return rollout if rollout.ndim else float(rollout)
