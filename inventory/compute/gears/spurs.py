"""
Spur gears: their sizes and how to measure them.

Millimetres and degrees at the edges, radians inside a function.  No cars, no
database, no clock.  Scalars in give scalars, arrays in give arrays; NaN in an
array is a size not known and gives NaN.

The formulas are those of the gear handbooks for involute spur gears; a pitch
per inch P is a module of 25.4 / P.
"""

import math
from dataclasses import dataclass
from typing import Final, Generic, TypeVar, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inventory.compute.arrays import Floats
from inventory.compute.errors import ComputeError

Number = TypeVar("Number", float, Floats)

INCH_MM: Final = 25.4
#: Below four teeth two involutes cannot hand over; common practice, no source.
LEAST_TEETH: Final = 4
#: More than any gear that a person counts by eye.
MOST_TEETH: Final = 400
#: A kilometre: longer is a slip, and its square would be no number.
LONGEST_MM: Final = 1e6
#: The coarsest module of ISO 54.
COARSEST_MODULE_MM: Final = 50.0


class TeethError(ComputeError):
    """The count of teeth is not a gear's."""

    code = "teeth_out_of_range"


class NotAPitchError(ComputeError):
    """The module or the pressure angle is not that of a spur gear."""

    code = "not_a_pitch"


class NotALengthError(ComputeError):
    """A length that must be positive is not."""

    code = "not_a_length"


@dataclass(frozen=True, kw_only=True)
class Spur(Generic[Number]):
    """A spur gear, or an array of them."""

    teeth: Number
    module_mm: Number
    pressure_angle_deg: Number
    shift: Number
    pitch_diameter_mm: Number
    base_diameter_mm: Number
    tip_diameter_mm: Number
    root_diameter_mm: Number


@dataclass(frozen=True, kw_only=True)
class TeethPair:
    """The teeth of two gears that fill a centre distance."""

    pinion_teeth: int
    gear_teeth: int
    centre_distance_mm: float


def checked_teeth(teeth: ArrayLike) -> Floats:
    """
    Take counts of teeth, or refuse.

    Parameters
    ----------
    teeth : (n,) array_like
        Teeth; NaN in an array is not known.

    Returns
    -------
    (n,) ndarray
        The same, as floats.

    Raises
    ------
    TeethError
        If one is not whole or not from 4 to 400.
    """
    z = np.asarray(teeth, dtype=np.float64)
    good = (z >= LEAST_TEETH) & (z <= MOST_TEETH) & (z == np.rint(z))
    if z.ndim:
        good |= np.isnan(z)
    if not good.all():
        msg = (
            f"{_first(z, ~good):g} teeth: a gear has a whole number of them, "
            f"{LEAST_TEETH} to {MOST_TEETH}."
        )
        raise TeethError(msg)
    return z


def checked_length(length_mm: ArrayLike, name: str) -> Floats:
    """
    Take lengths, or refuse.

    Parameters
    ----------
    length_mm : (n,) array_like
        Lengths, mm; NaN in an array is not known.
    name : str
        What it is, to begin the refusal with.

    Returns
    -------
    (n,) ndarray
        The same, as floats.

    Raises
    ------
    NotALengthError
        If one is not positive, or longer than a kilometre.
    """
    length = np.asarray(length_mm, dtype=np.float64)
    bad = ~((length > 0) & (length <= LONGEST_MM))
    if length.ndim:
        bad &= ~np.isnan(length)
    if bad.any():
        msg = f"{name} {_first(length, bad):g} mm: a positive length was expected."
        raise NotALengthError(msg)
    return length


def _checked_form(
    module_mm: ArrayLike,
    pressure_angle_deg: ArrayLike,
    shift: ArrayLike,
    *,
    coarsest_mm: float,
) -> list[Floats]:
    form = []
    for given, low, high, name in (
        (module_mm, 0.0, coarsest_mm, "Module {:g} mm"),
        (pressure_angle_deg, 0.0, 45.0, "Pressure angle {:g}°"),
        (shift, -2.0, 2.0, "Profile shift {:g}"),
    ):
        figure = np.asarray(given, dtype=np.float64)
        bad = ~((figure > low) & (figure <= high))
        if figure.ndim:
            bad &= ~np.isnan(figure)
        if bad.any():
            msg = name.format(_first(figure, bad)) + ": no spur gear has that."
            raise NotAPitchError(msg)
        form.append(figure)
    return form


def _first(values: Floats, where: NDArray[np.bool_]) -> float:
    return float(values[where].flat[0])


@overload
def spur(
    teeth: int,
    *,
    module_mm: float,
    pressure_angle_deg: float = 20.0,
    shift: float = 0.0,
    fine_inch: bool = False,
) -> Spur[float]: ...
@overload
def spur(
    teeth: ArrayLike,
    *,
    module_mm: ArrayLike,
    pressure_angle_deg: ArrayLike = 20.0,
    shift: ArrayLike = 0.0,
    fine_inch: bool = False,
) -> Spur[Floats]: ...
def spur(
    teeth: ArrayLike,
    *,
    module_mm: ArrayLike,
    pressure_angle_deg: ArrayLike = 20.0,
    shift: ArrayLike = 0.0,
    fine_inch: bool = False,
) -> Spur[float] | Spur[Floats]:
    """
    Size a spur gear.

    Parameters
    ----------
    teeth : (n,) array_like of int
        Teeth; 4 to 400.
    module_mm : (n,) array_like
        Module, mm; 25.4 / P for a pitch per inch P.
    pressure_angle_deg : (n,) array_like, optional
        Pressure angle of the cutter, degrees.
    shift : (n,) array_like, optional
        Profile shift, modules.
    fine_inch : bool, optional
        Cut 1.2 / P + 0.002 inch deep, as pitches of 20 and finer are, in place
        of 1.25 modules.

    Returns
    -------
    Spur
        Pitch, base, tip and root diameters, mm, with what they came from.

    Raises
    ------
    TeethError
        If a count of teeth is not a gear's.
    NotAPitchError
        If the module or the pressure angle is not a spur gear's, or too coarse
        for ``fine_inch``.

    Examples
    --------
    >>> spur(12, module_mm=3.0).tip_diameter_mm
    42.0
    """
    coarsest = INCH_MM / 20 if fine_inch else COARSEST_MODULE_MM
    form = _checked_form(module_mm, pressure_angle_deg, shift, coarsest_mm=coarsest)
    z, m, angle, x = np.broadcast_arrays(checked_teeth(teeth), *form)
    dedendum = 1.2 * m + 0.002 * INCH_MM if fine_inch else 1.25 * m
    pitch = m * z
    columns = {
        "teeth": z,
        "module_mm": m,
        "pressure_angle_deg": angle,
        "shift": x,
        "pitch_diameter_mm": pitch,
        "base_diameter_mm": pitch * np.cos(np.radians(angle)),
        "tip_diameter_mm": m * (z + 2.0 + 2.0 * x),
        "root_diameter_mm": pitch + 2.0 * (m * x - dedendum),
    }
    if z.ndim:
        return Spur[Floats](**columns)
    return Spur[float](**{name: float(column) for name, column in columns.items()})


def span_mm(gear: Spur[float], *, spanned_count: int) -> float:
    """
    Say what flat jaws read across some neighbouring teeth.

    The span does not hang on the outside diameter, so it tells two pitches
    apart where that cannot.

    Parameters
    ----------
    gear : Spur
        From `spur`.
    spanned_count : int
        Teeth between the jaws; at least 1, fewer than half.

    Returns
    -------
    float
        Span without backlash, mm.

    Raises
    ------
    TeethError
        If so many teeth cannot be spanned.

    Examples
    --------
    >>> round(span_mm(spur(20, module_mm=2.0), spanned_count=3), 3)
    15.321
    """
    if not 1 <= spanned_count < gear.teeth / 2.0:
        msg = f"{spanned_count} of {gear.teeth:g} teeth cannot be spanned."
        raise TeethError(msg)
    alpha = math.radians(gear.pressure_angle_deg)
    turns = math.pi * (spanned_count - 0.5) + gear.teeth * (math.tan(alpha) - alpha)
    straight = math.cos(alpha) * turns + 2.0 * gear.shift * math.sin(alpha)
    return gear.module_mm * straight


def teeth_for_centre_distance(
    centre_distance_mm: float, *, module_mm: float, ratio: float
) -> TeethPair:
    """
    Choose the teeth of two gears for a centre distance and a ratio.

    Parameters
    ----------
    centre_distance_mm : float
        Distance of the axes, mm.
    module_mm : float
        Module, mm.
    ratio : float
        Teeth of the gear over teeth of the pinion, as wanted.

    Returns
    -------
    TeethPair
        The most teeth that do not jam, shared out nearest to the ratio.

    Raises
    ------
    NotALengthError
        If a figure is not positive.
    TeethError
        If a gear of that size cannot have the teeth.

    Examples
    --------
    >>> pair = teeth_for_centre_distance(54.0, module_mm=3.0, ratio=1.25)
    >>> pair.pinion_teeth, pair.gear_teeth
    (16, 20)
    """
    distance = checked_length(centre_distance_mm, "Centre distance")
    module = checked_length(module_mm, "Module")
    share = 1.0 + checked_length(ratio, "Ratio")
    total = math.floor(float(np.round(2.0 * distance / module, 6)))
    pinion = round(total / float(share))
    checked_teeth([pinion, total - pinion])
    return TeethPair(
        pinion_teeth=pinion,
        gear_teeth=total - pinion,
        centre_distance_mm=total * module_mm / 2.0,
    )
