"""
Quantities that depend on how the car stands, and the places where they are.

Millimetres and degrees; one number a car and place.  A least clearance has a value
at each place where it may be: the least of them has a kink on a level car, where an
uncertainty carried through it would be wrong.  For the same reason the support is
the one found at the readings themselves.  Chassis and tyres are taken as rigid.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType
from typing import TypeAlias

import numpy as np

from inspection.compute.geometry import (
    Stance,
    Traced,
    apart,
    choose,
    clearance_mm,
    derive,
    rake_deg,
    rest,
    rest_as_before,
    rest_on_others,
    side_by_side,
    tilt_deg,
    twist_mm,
)
from inspection.compute.quantities import (
    OUTLINE_CORNERS,
    QUANTITIES,
    FrontCarrier,
    Whereabouts,
    columns_of,
)
from inspection.compute.stance.derivation import Derivation
from inspection.compute.stance.point_formulas import (
    contacts,
    either_side,
    gear_lowest,
    minus,
    past,
    tyre_contacts,
)
from inspection.compute.stance.points import CORNERS, Place, Point
from inventory.compute.arrays import Bools, Floats

_WHEELS = tuple(FrontCarrier).index(FrontCarrier.FRONT_WHEELS)
_GUIDE = tuple(FrontCarrier).index(FrontCarrier.GUIDE)
_XYZ: TypeAlias = tuple[Traced, Traced, Traced]


@dataclass(frozen=True, kw_only=True, eq=False, slots=True)
class Ground:
    """
    What a field of cars stands on.

    ``plane`` is that of ``stance``, traced back to the readings.
    """

    stance: Stance
    plane: tuple[Traced, ...]


class Standing:
    """
    How a field of cars stands, worked out once and only as far as asked.

    Parameters
    ----------
    derivation : Derivation
        The cars' columns.
    on_others : bool, optional
        Whether the wheel that hangs carries, and one of the others hangs.
    ground : Ground, optional
        What these cars stand on so, where that was worked out before.
    """

    def __init__(
        self,
        derivation: Derivation,
        *,
        on_others: bool = False,
        ground: Ground | None = None,
    ) -> None:
        self.derivation, self._on_others = derivation, on_others
        self._given = ground
        self._all = np.ones(derivation.field.car_count, dtype=np.bool_)

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
        place = QUANTITIES[key].place
        if place is None:
            return (self._place(Point.WHOLE, self.derivation.derived(key)),)
        return _AT[place](self)

    @cached_property
    def on_guide(self) -> Bools:
        """Whether the guide carries the front, a car."""
        return np.equal(self._column("front_carrier").value, _GUIDE)

    @property
    def ground(self) -> Ground:
        """The ground in each car's frame, as `Stance` has it, and how it bears it."""
        return Ground(stance=self._stance, plane=self._plane)

    def _column(self, name: str) -> Traced:
        return self.derivation.column(name)

    def _both(self, key: str) -> tuple[Traced, Traced]:
        left, right = columns_of(key)
        return self._column(left), self._column(right)

    @cached_property
    def _zero(self) -> Traced:
        return Traced(value=np.zeros(len(self._all)))

    def _place(
        self, point: Point, traced: Traced, present: Bools | None = None
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
        return derive(tyre_contacts, inputs, touches=_TYRE_CONTACTS_TOUCH)

    @cached_property
    def _rear_wheels(self) -> tuple[Traced, ...]:
        return self._axle("rear")

    @cached_property
    def _wheels(self) -> tuple[Traced, ...]:
        """The wheels' contacts, in the order that `contacts` takes them."""
        left, right = self._both("wheelbase")
        front = self._axle("front")
        return (*self._rear_wheels, left, *front[:2], right, *front[2:])

    @cached_property
    def _feet(self) -> tuple[Traced, ...]:
        """As the wheels, the guide in the place of the front ones where it carries."""
        # Where all cars are carried alike, the other carrier's columns are not asked.
        if self.on_guide.all():
            return (*self._rear_wheels, *self._guide)
        if not self.on_guide.any():
            return self._wheels
        front = zip(self._guide, self._wheels[4:], strict=True)
        return (
            *self._rear_wheels,
            *(choose(self.on_guide, one, other) for one, other in front),
        )

    @property
    def _guide(self) -> tuple[Traced, ...]:
        return (
            self._column("guide_lead"),
            self._zero,
            self._column("guide_flange_height"),
            *(Traced(value=np.full(len(self._all), np.nan)),) * 3,
        )

    @cached_property
    def _stance(self) -> Stance:
        if self._given is not None:
            return self._given.stance
        feet = np.column_stack([foot.value for foot in self._feet])
        gravity = np.column_stack(
            [self._column(f"centre_of_gravity_{axis}").value for axis in "xy"]
        )
        # A wheel not measured is not a wheel that is absent: such a car is not
        # to be put on the other three.
        on_wheels = self._column("front_carrier").value == _WHEELS
        known = self.on_guide | (on_wheels & ~np.isnan(feet).any(axis=1))
        weight, ground = np.where(known[:, None], gravity, np.nan), contacts(feet)
        stance = rest(ground, weight)
        return rest_on_others(stance, ground, weight) if self._on_others else stance

    @cached_property
    def _plane(self) -> tuple[Traced, ...]:
        if self._given is not None:
            return self._given.plane

        def plane(feet: Floats) -> Floats:
            times = len(feet) // max(len(self._all), 1)
            before = replace(
                self._stance,
                support=np.tile(self._stance.support, (times, 1)),
                reason=np.tile(self._stance.reason, times),
            )
            return rest_as_before(before, contacts(feet)).plane

        return derive(plane, self._feet)

    def _clearances(self, points: Mapping[Point, _XYZ]) -> tuple[Place, ...]:
        """Take the clearances of some points together, by x, y and z of each."""

        def clearance(m: Floats) -> Floats:
            stance = replace(self._stance, plane=m[:, :3])
            return clearance_mm(stance, m[:, None, 3:])

        if not points:
            return ()
        inputs = [(*self._plane, *point) for point in points.values()]
        (traced,) = derive(
            clearance, [side_by_side(one) for one in zip(*inputs, strict=True)]
        )
        return tuple(
            self._place(point, one)
            for point, one in zip(points, apart(traced, inputs), strict=True)
        )

    @cached_property
    def _rear_edges(self) -> tuple[Place, ...]:
        half, origin = self._column("datum_half_width_rear"), self._zero
        return self._clearances(
            {
                Point.REAR_LEFT_EDGE: (origin, half, origin),
                Point.REAR_RIGHT_EDGE: (origin, minus(half), origin),
            }
        )

    @cached_property
    def _front_edges(self) -> tuple[Place, ...]:
        half, flat = self._column("datum_half_width_front"), self._zero
        left, right = self._both("wheelbase")
        return self._clearances(
            {
                Point.FRONT_LEFT_EDGE: (left, half, flat),
                Point.FRONT_RIGHT_EDGE: (right, minus(half), flat),
            }
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
        (lowest,) = derive(gear_lowest, inputs)
        return self._clearances({Point.GEAR: (self._zero, aside, lowest)})

    @cached_property
    def _can(self) -> tuple[Place, ...]:
        middle, half = self._column("can_middle_y"), self._column("can_half_width")
        left, right = derive(either_side, (middle, half))
        rear = self._column("can_rear_x"), self._column("motor_lift_rear")
        front = self._column("can_front_x"), self._column("motor_lift_front")
        corners = {
            Point.CAN_REAR_LEFT: (rear, left),
            Point.CAN_REAR_RIGHT: (rear, right),
            Point.CAN_FRONT_LEFT: (front, left),
            Point.CAN_FRONT_RIGHT: (front, right),
        }
        return self._clearances(
            {point: (x, y, z) for point, ((x, z), y) in corners.items()}
        )

    @cached_property
    def _rectangle(self) -> tuple[tuple[Traced, Traced], ...]:
        """The outline of a car that has no corners given: x and y of each."""
        tail, lead = self.derivation.derived("outline_1_x"), self._column("guide_lead")
        rear = self._column("datum_half_width_rear")
        front = self._column("datum_half_width_front")
        return (
            (tail, rear),
            (tail, minus(rear)),
            (lead, front),
            (lead, minus(front)),
        )

    @cached_property
    def _corners(self) -> tuple[tuple[Place, Floats], ...]:
        """The corners of the outline that any car has, and x of each."""
        taken = [
            [self.derivation.as_read(f"outline_{k}_{axis}") for axis in "xyz"]
            for k in range(1, OUTLINE_CORNERS + 1)
        ]
        given = ~np.all(np.isnan([x.value for x, _, _ in taken]), axis=0)
        points: dict[Point, _XYZ] = {}
        there: dict[Point, Bools] = {}
        for k, (point, corner) in enumerate(zip(CORNERS, taken, strict=True)):
            x, y, z = corner
            present = ~np.isnan(x.value)
            if not given.all() and k < len(self._rectangle):
                default = (*self._rectangle[k], self._zero)
                x, y, z = (
                    choose(given, one, other)
                    for one, other in zip(corner, default, strict=True)
                )
                present = present | ~given
            if present.any():
                points[point], there[point] = (x, y, z), present
        return tuple(
            (replace(place, present=there[place.point]), points[place.point][0].value)
            for place in self._clearances(points)
        )

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
        (twist,) = derive(lambda m: twist_mm(contacts(m))[:, None], self._wheels)
        return (self._place(Point.WHOLE, twist),)

    @cached_property
    def _attitude(self) -> tuple[Place, ...]:
        def attitude(m: Floats) -> Floats:
            stance = replace(self._stance, plane=m)
            return np.column_stack((rake_deg(stance), tilt_deg(stance)))

        angles = derive(attitude, self._plane)
        return tuple(self._place(Point.WHOLE, angle) for angle in angles)

    @cached_property
    def _tyres_outside_body(self) -> tuple[Place, ...]:
        body = self._column("body_width")
        return tuple(
            self._place(point, derive(past, (self._column(over), body))[0])
            for point, over in (
                (Point.REAR, "width_rear"),
                (Point.FRONT, "width_front"),
            )
        )


#: How each place of the registry is found.
_AT: Mapping[Whereabouts, Callable[[Standing], tuple[Place, ...]]] = MappingProxyType(
    {
        Whereabouts.REAR_OF_CHASSIS: lambda car: car._chassis(rear=True),
        Whereabouts.FRONT_OF_CHASSIS: lambda car: car._chassis(rear=False),
        Whereabouts.UNDERSIDE: lambda car: car._outline,
        Whereabouts.GEAR: lambda car: car._gear,
        Whereabouts.CAN: lambda car: car._can,
        Whereabouts.REAR_EDGES: lambda car: car._rear_edges,
        Whereabouts.FRONT_EDGES: lambda car: car._front_edges,
        Whereabouts.FOURTH_WHEEL: lambda car: car._twist,
        Whereabouts.RAKE: lambda car: car._attitude[:1],
        Whereabouts.TILT: lambda car: car._attitude[1:],
        Whereabouts.TYRES_PAST_BODY: lambda car: car._tyres_outside_body,
    }
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
