"""
Derived quantities and their uncertainty worked out a second way.

One car at a time, with numbers of an independent library that carry their own
uncertainty, and with the plane's normal vector instead of its slopes.  A gauge's
error is one variable that is added to all it took.
"""

from collections.abc import Callable, Mapping
from itertools import combinations
from math import degrees, pi
from typing import Any, NamedTuple

import numpy as np

from inspection.compute.judging.evaluation import Field, Point

Number = Any  # ufloat, GTC's uncertain real, or float
Vector = tuple[Number, Number, Number]


class Functions(NamedTuple):
    """What a library calls its functions."""

    sqrt: Callable[[Number], Number]
    atan: Callable[[Number], Number]


def known(field: Field, car: int) -> dict[str, float]:
    """Columns that were measured on a car."""
    row = field.value[car]
    return {
        name: float(value)
        for name, value in zip(field.columns, row, strict=True)
        if not np.isnan(value)
    }


def derive_all(
    x: Mapping[str, Number], functions: Functions
) -> dict[tuple[str, Point], Number]:
    """Derive every quantity that `cars.DERIVED` names, at each of its places."""
    return {**_plain(x, functions), **_standing(x, functions)}


def _plain(
    x: Mapping[str, Number], functions: Functions
) -> dict[tuple[str, Point], Number]:
    rear = (x["axle_height_rear_left"], x["axle_height_rear_right"])
    ratio = x["teeth_gear"] / x["teeth_pinion"]
    mean_tyre = (x["tyre_diameter_rear_left"] + x["tyre_diameter_rear_right"]) / 2
    square = x["axle_to_reference_left"] - x["axle_to_reference_right"]
    axis = x["motor_lift_rear"] + x["can_height"] / 2
    whole = {
        "track_rear": x["width_rear"] - x["tyre_width_rear"],
        "track_front": x["width_front"] - x["tyre_width_front"],
        "tyre_mismatch_rear": x["tyre_diameter_rear_left"]
        - x["tyre_diameter_rear_right"],
        "tyre_mismatch_front": x["tyre_diameter_front_left"]
        - x["tyre_diameter_front_right"],
        "axle_level": (rear[0] - rear[1])
        * (x["width_rear"] - x["tyre_width_rear"])
        / x["axle_station_span_rear"],
        "axle_square": functions.atan(square / x["axle_reference_span"]) * degrees(1),
        "gear_ratio": ratio,
        "rollout": pi * mean_tyre / ratio,
        "motor_axle_offset": (rear[0] + rear[1]) / 2 - axis - x["gear_design_offset"],
    }
    ends = {Point.REAR: "width_rear", Point.FRONT: "width_front"}
    return {
        **{(key, Point.WHOLE): value for key, value in whole.items()},
        **{
            ("tyre_outside_body", point): (x[width] - x["body_width"]) / 2
            for point, width in ends.items()
        },
    }


def _axle(x: Mapping[str, Number], end: str, y: Number) -> Number:
    left, right = x[f"axle_height_{end}_left"], x[f"axle_height_{end}_right"]
    return (left + right) / 2 + (left - right) * y / x[f"axle_station_span_{end}"]


def _wheel(x: Mapping[str, Number], end: str, side: str) -> Vector:
    track = x[f"width_{end}"] - x[f"tyre_width_{end}"]
    y = track / 2 if side == "left" else -track / 2
    ahead = x[f"wheelbase_{side}"] if end == "front" else 0.0
    radius = x[f"tyre_diameter_{end}_{side}"] / 2
    return ahead, y, _axle(x, end, y) - radius + x["tyre_sink"]


def _minus(p: Vector, q: Vector) -> Vector:
    return p[0] - q[0], p[1] - q[1], p[2] - q[2]


def _dot(p: Vector, q: Vector) -> Number:
    return p[0] * q[0] + p[1] * q[1] + p[2] * q[2]


def _normal(p: Vector, q: Vector, r: Vector) -> Vector:
    """Take the normal of the plane through three points, upwards."""
    (a, b, c), (d, e, f) = _minus(q, p), _minus(r, p)
    normal = b * f - c * e, c * d - a * f, a * e - b * d
    if _plain_number(normal[2]) < 0:
        return -normal[0], -normal[1], -normal[2]
    return normal


def _plain_number(number: Number) -> float:
    # Each library has its own word for the best estimate.
    for word in ("nominal_value", "x"):
        if hasattr(number, word):
            return float(getattr(number, word))
    return float(number)


def support_of(feet: list[Vector], gravity: tuple[float, float]) -> list[Vector]:
    """Three feet with no other below their plane, and the weight between them."""
    flat = [tuple(map(_plain_number, foot)) for foot in feet]
    for triple in combinations(range(len(feet)), 3):
        corners = np.array([flat[index] for index in triple])
        frame = np.column_stack((corners[:, :2], np.ones(3)))
        shares = np.linalg.solve(frame.T, [*gravity, 1.0])
        plane = np.linalg.solve(frame, corners[:, 2])
        above = [z - plane @ [x, y, 1.0] for x, y, z in flat]
        if min(shares) >= -1e-9 and min(above) >= -1e-9:
            return [feet[index] for index in triple]
    message = "the car stands on no three feet"
    raise ValueError(message)


def _standing(
    x: Mapping[str, Number], functions: Functions
) -> dict[tuple[str, Point], Number]:
    sides = ("left", "right")
    rear = [_wheel(x, "rear", side) for side in sides]
    found: dict[tuple[str, Point], Number] = {}
    if x["front_carrier"] == 0:
        wheels = [*rear, *(_wheel(x, "front", side) for side in sides)]
        found["twist", Point.WHOLE] = _height(wheels[3], wheels[:3])
        feet = wheels
    else:
        feet = [*rear, (x["guide_lead"], 0.0, x["guide_flange_height"])]
    wheelbase = (x["wheelbase_left"] + x["wheelbase_right"]) / 2
    support = support_of(feet, (0.4 * _plain_number(wheelbase), 0.0))
    normal = _normal(*support)
    length = functions.sqrt(_dot(normal, normal))
    found["rake", Point.WHOLE] = functions.atan(-normal[0] / normal[2]) * degrees(1)
    found["tilt", Point.WHOLE] = functions.atan(normal[1] / normal[2]) * degrees(1)
    for key, places in _underside(x).items():
        for point, place in places.items():
            found[key, point] = _dot(normal, _minus(place, support[0])) / length
    return found


def _height(p: Vector, others: list[Vector]) -> Number:
    """Height of a point over the plane of three others, along z."""
    normal = _normal(*others[:3])
    return _dot(normal, _minus(p, others[0])) / normal[2]


def _underside(x: Mapping[str, Number]) -> dict[str, dict[Point, Vector]]:
    half, tail, lead = x["chassis_width"] / 2, x["chassis_tail"], x["guide_lead"]
    y_gear, radius = x["gear_position_y"], x["gear_diameter"] / 2
    can = x["can_width"] / 2
    rear_x, front_x, lift = x["can_rear_x"], x["can_front_x"], x["motor_lift_rear"]
    rear_edges = {
        Point.REAR_LEFT_EDGE: (0.0, half, 0.0),
        Point.REAR_RIGHT_EDGE: (0.0, -half, 0.0),
    }
    front_edges = {
        Point.FRONT_LEFT_EDGE: (x["wheelbase_left"], half, 0.0),
        Point.FRONT_RIGHT_EDGE: (x["wheelbase_right"], -half, 0.0),
    }
    behind = {
        Point.CORNER_1: (-tail, half, 0.0),
        Point.CORNER_2: (-tail, -half, 0.0),
    }
    ahead = {Point.CORNER_3: (lead, half, 0.0), Point.CORNER_4: (lead, -half, 0.0)}
    return {
        "ride_height_rear": rear_edges,
        "ride_height_front": front_edges,
        "clearance_rear": {**rear_edges, **behind},
        "clearance_front": {**front_edges, **ahead},
        "clearance_least": {**behind, **ahead},
        "clearance_gear": {
            Point.GEAR: (0.0, y_gear, _axle(x, "rear", y_gear) - radius)
        },
        "clearance_motor": {
            Point.CAN_REAR_LEFT: (rear_x, can, lift),
            Point.CAN_REAR_RIGHT: (rear_x, -can, lift),
            Point.CAN_FRONT_LEFT: (front_x, can, lift),
            Point.CAN_FRONT_RIGHT: (front_x, -can, lift),
        },
    }
