"""
A car with its parts and drawers full of others, for the pages of fit.

The car stands level: rear tyres of 20.00 on axles 8.50 over the flat, front tyres of
18.00 on 7.50, so that a gear clears the track by half of 20 less its diameter.  All
numbers are invented.
"""

from collections.abc import Callable, Mapping

from inspection.actions.rooms import store_room_sizes
from inspection.compute.night.entries import PartPosition
from inspection.compute.quantities.quantity import Layout
from inspection.models import Car
from inventory.actions.readings import record_part_readings
from inventory.compute.measuring.instruments import CheckKind, CheckResult, Instrument
from inventory.compute.numbers.units import Unit
from inventory.compute.stock import GearFacts, MotorFacts, TyreFacts
from inventory.compute.stock.words import Fixing, GearRole, PartQuantity
from inventory.loaders.gauges import LoadedGauge, load_gauges
from inventory.models import Gauge, GaugeMode, Part, Person
from tests import builders
from tests.builders import rule

RULES = (
    rule("1", "clearance_gear", lower=0.8),
    rule("2", "gear_ratio", lower=2.5, upper=4),
    rule("3", "tyre_diameter_rear", lower=18),
    rule("4", "weight_car", lower=80),
)
GEOMETRY: dict[str, str] = {
    "axle_height_rear_left": "8.5",
    "axle_height_rear_right": "8.5",
    "axle_station_span_rear": "40",
    "axle_height_front_left": "7.5",
    "axle_height_front_right": "7.5",
    "axle_station_span_front": "38",
    "tyre_diameter_front_left": "18",
    "tyre_diameter_front_right": "18",
    "width_rear": "76",
    "width_front": "68",
    "tyre_width_front": "8",
    "wheelbase_left": "95",
    "wheelbase_right": "95",
    "gear_position_y": "-10",
    "weight_car": "95",
    "axle_diameter": "2.38",
    "can_rear_x": "12",
    "can_front_x": "40",
    "can_half_width": "14",
    "motor_lift_rear": "0.2",
}
ROOM: dict[str, str] = {
    "slot_low_mm": "8.6",
    "slot_high_mm": "9.3",
    "axle_to_bar_mm": "9.2",
    "axle_room_mm": "8",
    "arch_width_mm": "17",
    "bay_height_mm": "18",
    "bay_width_mm": "22",
    "bay_length_mm": "30",
}


def caliper(unit: Unit = Unit.MILLIMETRE) -> LoadedGauge:
    """Give a gauge that may be used now, made once a unit."""
    name = Instrument.CALIPER if unit is Unit.MILLIMETRE else Instrument.SCALE
    mode = GaugeMode.objects.filter(unit=unit).first()
    if mode is None:
        mode = builders.make_gauge(instrument=name, unit=unit, at=builders.now())
        builders.check(
            Gauge.objects.get(pk=mode.gauge_id),
            CheckResult.PASSED,
            kind=CheckKind.TONIGHT,
            at=builders.now(),
        )
    return load_gauges(builders.now(), pk=mode.pk)[0]


def fine(instrument: Instrument) -> LoadedGauge:
    """Give pin gauges for bores, a micrometer for shafts: to 0.005 mm, made once."""
    mode = GaugeMode.objects.filter(gauge__instrument=instrument).first()
    if mode is None:
        mode = builders.make_gauge(instrument=instrument, at=builders.now())
        GaugeMode.objects.filter(pk=mode.pk).update(max_permissible_error=5_000)
    return load_gauges(builders.now(), pk=mode.pk)[0]


#: A caliper's tips cannot tell a bore from its shaft.
_FINE: Mapping[PartQuantity, Instrument] = {
    PartQuantity.BORE: Instrument.GO_PLATE,
    PartQuantity.SHAFT_DIAMETER: Instrument.MICROMETER,
}


def measured(
    part: Part, sizes: Mapping[PartQuantity, str], *, minutes: float = 0
) -> Part:
    """Read sizes of a part, some minutes after the tests' own time."""
    for quantity, text in sizes.items():
        act = builders.act(minutes=minutes)
        taken_with = _FINE.get(quantity)
        gauge = fine(taken_with) if taken_with else caliper()
        record_part_readings(part, quantity, [text], gauge=gauge, act=act)
    return part


def gear(
    teeth: int,
    over: str,
    *,
    pitch: str = "module 0.5",
    role: GearRole = GearRole.SPUR,
    bore: str = "2.40",
    hub: str = "6.00",
    owner: Person | None = None,
    drawer: str = "G1",
) -> Part:
    """Give a spur or crown in stock, measured."""
    part = builders.make_part(
        GearFacts(role=role, teeth=teeth, pitch_name=pitch), owner=owner, drawer=drawer
    )
    sizes = {
        PartQuantity.GEAR_DIAMETER: over,
        PartQuantity.BORE: bore,
        PartQuantity.HUB_WIDTH: hub,
    }
    return measured(part, {key: text for key, text in sizes.items() if text})


def pinion(
    teeth: int, *, pitch: str = "module 0.5", owner: Person | None = None
) -> Part:
    """Give a pinion in stock, for a shaft of 1.50."""
    facts = GearFacts(
        role=GearRole.PINION, teeth=teeth, pitch_name=pitch, fixing=Fixing.PRESS
    )
    part = builders.make_part(facts, owner=owner)
    return measured(
        part,
        {
            PartQuantity.BORE: "1.48",
            PartQuantity.HUB_WIDTH: "4.00",
            PartQuantity.FACE_WIDTH: "3.00",
        },
    )


def tyre(
    size: str, *, width: str = "16.0", bore: str = "2.40", owner: Person | None = None
) -> Part:
    """Give a rear tyre in stock."""
    part = builders.make_part(TyreFacts(compound="soft", wheel="17"), owner=owner)
    return measured(
        part,
        {
            PartQuantity.TYRE_DIAMETER: size,
            PartQuantity.TYRE_WIDTH: width,
            PartQuantity.BORE: bore,
        },
    )


def motor(
    height: str = "16.60", *, length: str = "28.00", owner: Person | None = None
) -> Part:
    """Give a motor in stock, its shaft 1.50 across and 6 long."""
    part = builders.make_part(MotorFacts(family="long"), owner=owner)
    return measured(
        part,
        {
            PartQuantity.CAN_HEIGHT: height,
            PartQuantity.CAN_WIDTH: "20.00",
            PartQuantity.CAN_LENGTH: length,
            PartQuantity.SHAFT_DIAMETER: "1.50",
            PartQuantity.SHAFT_LENGTH: "6.00",
        },
    )


def make_car(
    *,
    owner: Person | None = None,
    room: Mapping[str, str] | None = None,
    without: frozenset[str] = frozenset(),
    on_car: Mapping[PartPosition, Part] | None = None,
) -> Car:
    """
    Give a sidewinder with its geometry, its room and its parts on it.

    ``without`` names columns that nobody took; ``on_car`` replaces parts.
    """
    car = builders.make_car(
        owner=owner,
        layout=Layout.SIDEWINDER,
        geometry={c: text for c, text in GEOMETRY.items() if c not in without},
    )
    sizes = ROOM if room is None else room
    if sizes:
        store_room_sizes(car, sizes, act=builders.act())
    given = dict(on_car or {})
    usual: dict[PartPosition, Callable[[], Part]] = {
        PartPosition.REAR_LEFT: lambda: tyre("20.00", owner=car.owner),
        PartPosition.REAR_RIGHT: lambda: tyre("20.00", owner=car.owner),
        PartPosition.GEAR: lambda: gear(28, "15.00", owner=car.owner),
        PartPosition.PINION: lambda: pinion(9, owner=car.owner),
        PartPosition.MOTOR: lambda: motor(owner=car.owner),
    }
    parts = given | {
        position: make() for position, make in usual.items() if position not in given
    }
    for position, part in parts.items():
        builders.fit(car, part, position)
    return car
