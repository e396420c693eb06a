"""
Axles: from heights measured at two stations to the contacts of the tyres.

Millimetres and degrees, in the car's own frame: z up from the datum plane, x
forward from the rear axle, y to the car's left.  Pairs are left first, along the
last axis; numbers give numbers, arrays arrays.
"""

import numpy as np
from numpy.typing import ArrayLike

from inventory.compute.arrays import Floats

_GRAVITY_SHARE = 0.4


def height_at_mm(
    height_mm: ArrayLike, *, span_mm: ArrayLike, y_mm: ArrayLike
) -> Floats:
    """
    Extend an axle straight from where it was measured to another place across.

    Parameters
    ----------
    height_mm : (..., 2) array_like
        Height of the axle's centre over the datum, left and right.
    span_mm : (...) array_like
        Distance of the two stations, evenly about the middle.
    y_mm : (...) array_like
        The place, to the car's left.

    Returns
    -------
    (...) ndarray
        Height of the axle's centre there.

    Examples
    --------
    >>> height_at_mm([9.67, 9.54], span_mm=40.0, y_mm=30.0).round(4)
    np.float64(9.7025)
    """
    left, right = _sides(height_mm)
    slope = (left - right) / np.asarray(span_mm, dtype=np.float64)
    height: Floats = (left + right) / 2 + slope * np.asarray(y_mm)
    return height


def wheel_contacts_mm(
    x_mm: ArrayLike,
    *,
    height_mm: ArrayLike,
    span_mm: ArrayLike,
    track_mm: ArrayLike,
    diameter_mm: ArrayLike,
    sink_mm: ArrayLike = 0.0,
) -> Floats:
    """
    Place the contacts of an axle's two tyres.

    Parameters
    ----------
    x_mm : float or (cars, 2) array_like
        The axle's place along the car, left and right: 0, or the wheelbase.
    height_mm : (cars, 2) array_like
        Height of the axle's centre over the datum, left and right.
    span_mm, track_mm : float or (cars,) array_like
        Distance of the two stations; of the two tyres' middles.
    diameter_mm : (cars, 2) array_like
        Diameters of the tyres, left and right.
    sink_mm : float or (cars, 2) array_like, default 0
        By how much a tyre flattens under the car.

    Returns
    -------
    (cars, 2, 3) ndarray
        The left contact and the right one.

    Examples
    --------
    >>> wheel_contacts_mm(
    ...     0.0,
    ...     height_mm=[[8.5, 8.5]],
    ...     span_mm=40.0,
    ...     track_mm=60.0,
    ...     diameter_mm=[[20.4, 20.2]],
    ... ).round(3)
    array([[[  0. ,  30. ,  -1.7],
            [  0. , -30. ,  -1.6]]])
    """
    aside = np.asarray(track_mm, dtype=np.float64)[..., None] * np.array([0.5, -0.5])
    # A new axis at the end: the span and the heights are the axle's, y the tyre's.
    heights = np.asarray(height_mm, dtype=np.float64)[..., None, :]
    spans = np.asarray(span_mm, dtype=np.float64)[..., None]
    axle = height_at_mm(heights, span_mm=spans, y_mm=aside)
    below = axle - np.asarray(diameter_mm) / 2 + np.asarray(sink_mm)
    return np.stack(np.broadcast_arrays(np.asarray(x_mm), aside, below), axis=-1)


def guide_contact_mm(x_mm: ArrayLike, *, z_mm: ArrayLike) -> Floats:
    """
    Place the contact of the guide's flange, where it carries the front.

    Parameters
    ----------
    x_mm : (...) array_like
        Ahead of the rear axle.
    z_mm : (...) array_like
        The flange's underside over the chassis' underside; negative below it.

    Returns
    -------
    (..., 1, 3) ndarray
        The one point, mm, on the car's middle line.

    Examples
    --------
    >>> guide_contact_mm([110.0], z_mm=[-1.2])
    array([[[110. ,   0. ,  -1.2]]])
    """
    x, z = np.broadcast_arrays(
        np.asarray(x_mm, dtype=np.float64), np.asarray(z_mm, dtype=np.float64)
    )
    return np.stack((x, np.zeros_like(x), z), axis=-1)[..., None, :]


def axle_level_mm(
    height_mm: ArrayLike, *, span_mm: ArrayLike, track_mm: ArrayLike
) -> Floats:
    """
    How much higher the left end of an axle is than the right, at the wheels.

    Parameters
    ----------
    height_mm : (..., 2) array_like
        Height of the axle's centre over the datum, left and right.
    span_mm, track_mm : (...) array_like
        Distance of the two stations; of the two tyres' middles.

    Returns
    -------
    (...) ndarray
        Difference of height, mm.

    Examples
    --------
    >>> axle_level_mm([9.54, 9.67], span_mm=40.0, track_mm=60.0).round(3)
    np.float64(-0.195)
    """
    left, right = _sides(height_mm)
    level: Floats = (left - right) * np.asarray(track_mm) / np.asarray(span_mm)
    return level


def axle_square_deg(reference_mm: ArrayLike, *, span_mm: ArrayLike) -> Floats:
    """
    Angle of an axle to square; positive if its left end is further back.

    Such a car rolls to the left.

    Parameters
    ----------
    reference_mm : (..., 2) array_like
        Distance of the axle from a reference square to the car and ahead of it, left
        and right.
    span_mm : (...) array_like
        Distance between the two places of measurement, across.

    Returns
    -------
    (...) ndarray
        Degrees.

    Examples
    --------
    >>> axle_square_deg([95.1, 95.0], span_mm=50.0).round(4)
    np.float64(0.1146)
    """
    left, right = _sides(reference_mm)
    slope: Floats = (left - right) / np.asarray(span_mm)
    return np.degrees(np.arctan(slope))


def axle_drift_mm_per_metre(reference_mm: ArrayLike, *, span_mm: ArrayLike) -> Floats:
    """
    How far an axle out of square rolls to the left on each metre ahead.

    Parameters
    ----------
    reference_mm : (..., 2) array_like
        Axle to a reference edge, left and right, as `axle_square_deg` takes them.
    span_mm : (...) array_like
        Distance of the two places across the car.

    Returns
    -------
    (...) ndarray
        Millimetres to the left a metre; negative to the right.

    Examples
    --------
    >>> axle_drift_mm_per_metre([95.1, 95.0], span_mm=50.0).round(4)
    np.float64(2.0)
    """
    left, right = _sides(reference_mm)
    drift: Floats = 1000.0 * (left - right) / np.asarray(span_mm)
    return drift


def motor_axle_offset_mm(
    height_mm: ArrayLike, *, motor_axis_mm: ArrayLike, gear_offset_mm: ArrayLike = 0.0
) -> Floats:
    """
    How far the rear axle is above where the motor's shaft would have it.

    Parameters
    ----------
    height_mm : (..., 2) array_like
        Height of the rear axle's centre over the datum, left and right.
    motor_axis_mm : (...) array_like
        Height of the motor's shaft over the datum; of a sloping one, at the pinion.
    gear_offset_mm : (...) array_like, default 0
        How far above the shaft the gear is made to run.

    Returns
    -------
    (...) ndarray
        Offset, mm; 0 is wanted.

    Examples
    --------
    >>> motor_axle_offset_mm([8.5, 8.4], motor_axis_mm=8.3).round(3)
    np.float64(0.15)
    """
    left, right = _sides(height_mm)
    meant = np.asarray(motor_axis_mm) + np.asarray(gear_offset_mm)
    offset: Floats = (left + right) / 2 - meant
    return offset


def centre_of_gravity_mm(wheelbase_mm: ArrayLike) -> Floats:
    """
    Take the centre of gravity as 0.4 of the wheelbase ahead of the rear axle.

    Parameters
    ----------
    wheelbase_mm : (...) array_like
        Distance of the axles.

    Returns
    -------
    (..., 2) ndarray
        Ahead of the rear axle and to the left, mm; the share is common practice, no
        source.

    Examples
    --------
    >>> centre_of_gravity_mm([95.0, 110.0])
    array([[38.,  0.],
           [44.,  0.]])
    """
    ahead = _GRAVITY_SHARE * np.asarray(wheelbase_mm, dtype=np.float64)
    return np.stack((ahead, np.zeros_like(ahead)), axis=-1)


def _sides(pair: ArrayLike) -> tuple[Floats, Floats]:
    array = np.asarray(pair, dtype=np.float64)
    return array[..., 0], array[..., 1]
