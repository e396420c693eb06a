"""
The formulas of the registry: a row a car in, a row a car out.

``m`` is ``(cars, inputs)``, its columns in the order in which the quantity names
them; the answer is ``(cars, 1)``.  Millimetres and degrees.
"""

from math import pi

import numpy as np

from inspection.compute.geometry import (
    axle_level_mm,
    axle_square_deg,
    centre_of_gravity_mm,
    motor_axle_offset_mm,
)
from inspection.compute.quantities.quantity import Layout
from inventory.compute.arrays import Floats

_IN_LINE = tuple(Layout).index(Layout.IN_LINE)


def difference(m: Floats) -> Floats:
    """Take the second from the first."""
    return m[:, :1] - m[:, 1:]


def total(m: Floats) -> Floats:
    """Add the first and the second."""
    return m[:, :1] + m[:, 1:]


def half(m: Floats) -> Floats:
    """Take half of it."""
    return m / 2


def the_same(m: Floats) -> Floats:
    """Take it as it is."""
    return m


def behind(m: Floats) -> Floats:
    """Go as far the other way."""
    return -m


def half_across(m: Floats) -> Floats:
    """Take half a can's width where it lies along the car, as far as is known."""
    # Turned across the car, a can takes up more than its width: it is measured.
    in_line = np.isnan(m[:, 1:]) | (m[:, 1:] == _IN_LINE)
    return np.where(in_line, m[:, :1] / 2, np.nan)


def ratio(m: Floats) -> Floats:
    """Divide the first by the second."""
    return m[:, :1] / m[:, 1:]


def rollout(m: Floats) -> Floats:
    """Go once round the mean of two tyres, over a ratio."""
    return pi * (m[:, :1] + m[:, 1:2]) / 2 / m[:, 2:]


def axle_level(m: Floats) -> Floats:
    """Take two heights, the span of their places, and the track."""
    return axle_level_mm(m[:, None, :2], span_mm=m[:, 2:3], track_mm=m[:, 3:])


def axle_square(m: Floats) -> Floats:
    """Take two distances to the reference, and the span of their places."""
    return axle_square_deg(m[:, None, :2], span_mm=m[:, 2:])


def motor_axle_offset(m: Floats) -> Floats:
    """Take two axle heights, the height of the shaft, and the gear's own offset."""
    return motor_axle_offset_mm(
        m[:, None, :2], motor_axis_mm=m[:, 2:3], gear_offset_mm=m[:, 3:]
    )


def balance(m: Floats) -> Floats:
    """Say where a car of this wheelbase, left and right, is taken to balance."""
    return centre_of_gravity_mm((m[:, 0] + m[:, 1]) / 2)[:, :1]
