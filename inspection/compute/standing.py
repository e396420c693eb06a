"""
Quantities that depend on how the car stands, and the places where they are.

Millimetres and degrees; one number a car and place.  A least clearance has a value
at each place where it may be: the least of them has a kink on a level car, where an
uncertainty carried through it would be wrong.  For the same reason the support is
the one found at the readings themselves.  Chassis and tyres are taken as rigid.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property

import numpy as np

from inspection.compute.axles import height_at_mm, wheel_contacts_mm
from inspection.compute.derivations import Derivation
from inspection.compute.quantities import (
    OUTLINE_CORNERS,
    FrontCarrier,
    columns_of,
)
from inspection.compute.stance import (
    Stance,
    clearance_mm,
    rake_deg,
    rest,
    rest_as_before,
    tilt_deg,
    twist_mm,
)
from inspection.compute.tracing import BoolArray, FloatArray, Traced, choose, derive

_WHEELS = tuple(FrontCarrier).index(FrontCarrier.FRONT_WHEELS)
_GUIDE = tuple(FrontCarrier).index(FrontCarrier.GUIDE)


class Point(StrEnum):
    """Where on the car a quantity has the value that decides."""

    WHOLE = "whole"
    LEFT = "left"
    RIGHT = "right"
    REAR = "rear"
    FRONT = "front"
    REAR_LEFT_EDGE = "rear left edge"
    REAR_RIGHT_EDGE = "rear right edge"
    FRONT_LEFT_EDGE = "front left edge"
    FRONT_RIGHT_EDGE = "front right edge"
    GEAR = "gear"
    CAN_REAR_LEFT = "can, rear left"
    CAN_REAR_RIGHT = "can, rear right"
    CAN_FRONT_LEFT = "can, front left"
    CAN_FRONT_RIGHT = "can, front right"
    CORNER_1 = "corner 1"
    CORNER_2 = "corner 2"
    CORNER_3 = "corner 3"
    CORNER_4 = "corner 4"
    CORNER_5 = "corner 5"
    CORNER_6 = "corner 6"
    CORNER_7 = "corner 7"
    CORNER_8 = "corner 8"

    @property
    def code(self) -> int:
        """The number that stands for the point in an array."""
        return _CODES[self]


_CODES = {point: code for code, point in enumerate(Point)}
_CORNERS = tuple(Point)[-OUTLINE_CORNERS:]


@dataclass(frozen=True, kw_only=True, eq=False, slots=True)
class Place:
    """
    A quantity's value at one place.

    ``present`` is ``(cars,)``: whether the car has this place.
    """

    point: Point
    traced: Traced
    present: BoolArray


class Standing:
    """
    How a field of cars stands, worked out once and only as far as asked.

    Parameters
    ----------
    derivation : Derivation
        The cars' columns.
    """

    def __init__(self, derivation: Derivation) -> None:
        self.derivation = derivation
        self._all = np.ones(derivation.field.cars, dtype=np.bool_)

    def places(self, key: str) -> tuple[Place, ...]:
        """
        Derive a quantity at each place where it has a value.

        Parameters
        ----------
        key : str
            The quantity's key; one with a formula.

        Returns
        -------
        tuple of Place
            Whatever was taken of the quantity itself.
        """
        find: dict[str, Callable[[], tuple[Place, ...]]] = {
            "clearance_rear": lambda: self._chassis(rear=True),
            "clearance_front": lambda: self._chassis(rear=False),
            "clearance_least": lambda: self._outline,
            "clearance_gear": lambda: self._gear,
            "clearance_motor": lambda: self._can,
            "ride_height_rear": lambda: self._rear_edges,
            "ride_height_front": lambda: self._front_edges,
            "twist": lambda: self._twist,
            "rake": lambda: self._attitude[:1],
            "tilt": lambda: self._attitude[1:],
            "tyre_outside_body": lambda: self._tyres_outside_body,
            "outline_1_x": lambda: (self._place(Point.WHOLE, self._rectangle[0][0]),),
            "outline_1_y": lambda: (self._place(Point.WHOLE, self._rectangle[0][1]),),
        }
        if key in find:
            return find[key]()
        return (self._place(Point.WHOLE, self.derivation.derived(key)),)

    @cached_property
    def on_guide(self) -> BoolArray:
        """Whether the guide carries the front, a car."""
        return np.equal(self._column("front_carrier").value, _GUIDE)

    @property
    def ground(self) -> FloatArray:
        """The ground in each car's frame, ``(cars, 3)``; as `Stance` has it."""
        return np.column_stack([one.value for one in self._plane])

    def _column(self, name: str) -> Traced:
        return self.derivation.column(name)

    def _both(self, key: str) -> tuple[Traced, Traced]:
        left, right = columns_of(key)
        return self._column(left), self._column(right)

    def _exactly(self, value: float) -> Traced:
        return Traced(value=np.full(len(self._all), value))

    def _place(
        self, point: Point, traced: Traced, present: BoolArray | None = None
    ) -> Place:
        there = self._all if present is None else present
        return Place(point=point, traced=traced, present=there)

    def _axle(self, end: str) -> tuple[Traced, ...]:
        """Take y and z of the left tyre's contact, then of the right one's."""
        inputs = (
            *self._both(f"axle_height_{end}"),
            self._column(f"axle_station_span_{end}"),
            self._column(f"track_{end}"),
            *self._both(f"tyre_diameter_{end}"),
            self._column("tyre_sink"),
        )
        return derive(_tyre_contacts, inputs, touches=_TYRE_CONTACTS_TOUCH)

    @cached_property
    def _wheels(self) -> tuple[Traced, ...]:
        """The wheels' contacts, in the order that `_contacts` takes them."""
        left, right = self._both("wheelbase")
        front = self._axle("front")
        return (*self._axle("rear"), left, *front[:2], right, *front[2:])

    @cached_property
    def _feet(self) -> tuple[Traced, ...]:
        """As the wheels, the guide in the place of the front ones where it carries."""
        guide = (
            self._column("guide_lead"),
            self._exactly(0.0),
            self._column("guide_flange_height"),
            *(self._exactly(np.nan),) * 3,
        )
        front = zip(guide, self._wheels[4:], strict=True)
        return (
            *self._wheels[:4],
            *(choose(self.on_guide, one, other) for one, other in front),
        )

    @cached_property
    def _stance(self) -> Stance:
        feet = np.column_stack([foot.value for foot in self._feet])
        gravity = np.column_stack(
            [self._column(f"centre_of_gravity_{axis}").value for axis in "xy"]
        )
        # A wheel not measured is not a wheel that is absent: such a car is not
        # to be put on the other three.
        on_wheels = self._column("front_carrier").value == _WHEELS
        known = self.on_guide | (on_wheels & ~np.isnan(feet).any(axis=1))
        return rest(_contacts(feet), np.where(known[:, None], gravity, np.nan))

    @cached_property
    def _plane(self) -> tuple[Traced, ...]:
        def plane(feet: FloatArray) -> FloatArray:
            times = len(feet) // max(len(self._all), 1)
            before = replace(
                self._stance,
                support=np.tile(self._stance.support, (times, 1)),
                reason=np.tile(self._stance.reason, times),
            )
            return rest_as_before(before, _contacts(feet)).plane

        return derive(plane, self._feet)

    def _clearance(self, x: Traced, y: Traced, z: Traced) -> Traced:
        def clearance(m: FloatArray) -> FloatArray:
            stance = replace(self._stance, plane=m[:, :3])
            return clearance_mm(stance, m[:, None, 3:])

        return derive(clearance, (*self._plane, x, y, z))[0]

    @cached_property
    def _rear_edges(self) -> tuple[Place, ...]:
        half, origin = self._column("datum_half_width_rear"), self._exactly(0.0)
        return (
            self._place(Point.REAR_LEFT_EDGE, self._clearance(origin, half, origin)),
            self._place(
                Point.REAR_RIGHT_EDGE, self._clearance(origin, _minus(half), origin)
            ),
        )

    @cached_property
    def _front_edges(self) -> tuple[Place, ...]:
        half, flat = self._column("datum_half_width_front"), self._exactly(0.0)
        left, right = self._both("wheelbase")
        return (
            self._place(Point.FRONT_LEFT_EDGE, self._clearance(left, half, flat)),
            self._place(
                Point.FRONT_RIGHT_EDGE, self._clearance(right, _minus(half), flat)
            ),
        )

    @cached_property
    def _gear(self) -> tuple[Place, ...]:
        aside = self._column("gear_position_y")
        inputs = (
            *self._both("axle_height_rear"),
            self._column("axle_station_span_rear"),
            aside,
            self._column("gear_diameter"),
        )
        (lowest,) = derive(_gear_lowest, inputs)
        clearance = self._clearance(self._exactly(0.0), aside, lowest)
        return (self._place(Point.GEAR, clearance),)

    @cached_property
    def _can(self) -> tuple[Place, ...]:
        middle, half = self._column("can_middle_y"), self._column("can_half_width")
        left, right = derive(_either_side, (middle, half))
        rear = self._column("can_rear_x"), self._column("motor_lift_rear")
        front = self._column("can_front_x"), self._column("motor_lift_front")
        corners = {
            Point.CAN_REAR_LEFT: (rear, left),
            Point.CAN_REAR_RIGHT: (rear, right),
            Point.CAN_FRONT_LEFT: (front, left),
            Point.CAN_FRONT_RIGHT: (front, right),
        }
        return tuple(
            self._place(point, self._clearance(x, y, z))
            for point, ((x, z), y) in corners.items()
        )

    @cached_property
    def _rectangle(self) -> tuple[tuple[Traced, Traced], ...]:
        """The outline of a car that has no corners given: x and y of each."""
        tail, lead = _minus(self._column("chassis_tail")), self._column("guide_lead")
        rear = self._column("datum_half_width_rear")
        front = self._column("datum_half_width_front")
        return (
            (tail, rear),
            (tail, _minus(rear)),
            (lead, front),
            (lead, _minus(front)),
        )

    @cached_property
    def _corners(self) -> tuple[tuple[Place, FloatArray], ...]:
        """The corners of the outline that any car has, and x of each."""
        taken = [
            [self.derivation.as_read(f"outline_{k}_{axis}") for axis in "xyz"]
            for k in range(1, OUTLINE_CORNERS + 1)
        ]
        given = ~np.all(np.isnan([x.value for x, _, _ in taken]), axis=0)
        found = []
        for k, (point, corner) in enumerate(zip(_CORNERS, taken, strict=True)):
            x, y, z = corner
            present = ~np.isnan(x.value)
            if k < len(self._rectangle):
                default = (*self._rectangle[k], self._exactly(0.0))
                x, y, z = (
                    choose(given, one, other)
                    for one, other in zip(corner, default, strict=True)
                )
                present = present | ~given
            if present.any():
                place = self._place(point, self._clearance(x, y, z), present)
                found.append((place, x.value))
        return tuple(found)

    @property
    def _outline(self) -> tuple[Place, ...]:
        return tuple(place for place, _ in self._corners)

    def _chassis(self, *, rear: bool) -> tuple[Place, ...]:
        left, right = self._both("wheelbase")
        middle = (left.value + right.value) / 4
        # A corner that cannot be told to either end counts for both.
        return (
            *(self._rear_edges if rear else self._front_edges),
            *(
                replace(
                    place,
                    present=place.present & ~(x > middle if rear else x <= middle),
                )
                for place, x in self._corners
            ),
        )

    @cached_property
    def _twist(self) -> tuple[Place, ...]:
        (twist,) = derive(lambda m: twist_mm(_contacts(m))[:, None], self._wheels)
        return (self._place(Point.WHOLE, twist),)

    @cached_property
    def _attitude(self) -> tuple[Place, ...]:
        def attitude(m: FloatArray) -> FloatArray:
            stance = replace(self._stance, plane=m)
            return np.column_stack((rake_deg(stance), tilt_deg(stance)))

        angles = derive(attitude, self._plane)
        return tuple(self._place(Point.WHOLE, angle) for angle in angles)

    @cached_property
    def _tyres_outside_body(self) -> tuple[Place, ...]:
        body = self._column("body_width")
        return tuple(
            self._place(point, derive(_past, (self._column(over), body))[0])
            for point, over in (
                (Point.REAR, "width_rear"),
                (Point.FRONT, "width_front"),
            )
        )


_TYRE_CONTACTS_TOUCH = np.array(
    # heights left and right, span, track, diameters left and right, sink
    [
        [False, False, False, True, False, False, False],
        [True, True, True, True, True, False, True],
        [False, False, False, True, False, False, False],
        [True, True, True, True, False, True, True],
    ]
).T


def _tyre_contacts(m: FloatArray) -> FloatArray:
    contacts = wheel_contacts_mm(
        0.0,
        height_mm=m[:, :2],
        span_mm=m[:, 2],
        track_mm=m[:, 3],
        diameter_mm=m[:, 4:6],
        sink_mm=m[:, 6:],
    )
    return contacts[..., 1:].reshape(len(m), 4)


def _contacts(m: FloatArray) -> FloatArray:
    """Rear y and z, left and right, then front x, y and z; the rear is at x = 0."""
    contacts = np.zeros((len(m), 4, 3))
    contacts[:, :2, 1:] = m[:, :4].reshape(-1, 2, 2)
    contacts[:, 2:] = m[:, 4:].reshape(-1, 2, 3)
    return contacts


def _gear_lowest(m: FloatArray) -> FloatArray:
    axle = height_at_mm(m[:, None, :2], span_mm=m[:, 2:3], y_mm=m[:, 3:4])
    return axle - m[:, 4:] / 2


def _either_side(m: FloatArray) -> FloatArray:
    return np.column_stack((m[:, 0] + m[:, 1], m[:, 0] - m[:, 1]))


def _past(m: FloatArray) -> FloatArray:
    return (m[:, :1] - m[:, 1:]) / 2


def _minus(one: Traced) -> Traced:
    return derive(lambda m: -m, (one,))[0]
