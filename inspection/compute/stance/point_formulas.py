"""
Formulas of single places of a standing car, as the slopes are taken of them.

Each takes one row a car, the inputs in the order that its caller names them, and
gives one row a car.  Millimetres in the chassis frame.
"""

import numpy as np

from inspection.compute.geometry import Traced, derive, height_at_mm, wheel_contacts_mm
from inventory.compute.arrays import Floats


def tyre_contacts(m: Floats) -> Floats:
    """Two heights, span, track, two diameters, two sinks: y and z, left and right."""
    contacts = wheel_contacts_mm(
        0.0,
        height_mm=m[:, :2],
        span_mm=m[:, 2],
        track_mm=m[:, 3],
        diameter_mm=m[:, 4:6],
        sink_mm=m[:, 6:],
    )
    return contacts[..., 1:].reshape(len(m), 4)


def contacts(m: Floats) -> Floats:
    """Rear y and z, left and right, then front x, y and z; the rear is at x = 0."""
    contacts = np.zeros((len(m), 4, 3))
    contacts[:, :2, 1:] = m[:, :4].reshape(-1, 2, 2)
    contacts[:, 2:] = m[:, 4:].reshape(-1, 2, 3)
    return contacts


def gear_lowest(m: Floats) -> Floats:
    """Two heights, span, the gear's y and diameter: z of its lowest point."""
    axle = height_at_mm(m[:, None, :2], span_mm=m[:, 2:3], y_mm=m[:, 3:4])
    return axle - m[:, 4:] / 2


def either_side(m: Floats) -> Floats:
    """Give the left and the right edge, of a middle and a half-width."""
    return np.column_stack((m[:, 0] + m[:, 1], m[:, 0] - m[:, 1]))


def past(m: Floats) -> Floats:
    """Give how far an outer width stands past an inner one, a side."""
    return (m[:, :1] - m[:, 1:]) / 2


def minus(one: Traced) -> Traced:
    """Turn the sign of a traced value."""
    return derive(lambda m: -m, (one,))[0]
