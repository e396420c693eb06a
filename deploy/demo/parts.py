"""The demo club's parts: how one comes in and is measured, and what is in drawers."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial
from typing import Final

from deploy.demo.bench import Bench
from inventory.actions.audit import Act
from inventory.actions.readings import record_part_readings
from inventory.actions.stock import NewPart, receive_part, reserve_part, retire_part
from inventory.compute.measuring import Instrument
from inventory.compute.stock import (
    GearFacts,
    GearRole,
    MotorFacts,
    PartFacts,
    PartQuantity,
    TyreFacts,
)
from inventory.models import Part, Person

#: Three angles of a tyre: it is never quite round.
_ANGLES: Final = (Decimal("0.01"), Decimal("-0.02"), Decimal("0.01"))

_INSTRUMENTS: Final[Mapping[PartQuantity, Instrument]] = {
    PartQuantity.BORE: Instrument.GO_PLATE,
    PartQuantity.MOTOR_SPEED: Instrument.TACHOMETER,
    PartQuantity.MOTOR_RESISTANCE: Instrument.OHMMETER,
    PartQuantity.SHAFT_DIAMETER: Instrument.MICROMETER,
}
#: What all gears of a kind have in common: on these a gear's place on a car hangs.
_OF_ROLE: Final[Mapping[GearRole, Mapping[PartQuantity, str]]] = {
    GearRole.SPUR: {PartQuantity.HUB_WIDTH: "6.10", PartQuantity.BORE: "2.38"},
    GearRole.CROWN: {
        PartQuantity.HUB_WIDTH: "3.20",
        PartQuantity.FACE_WIDTH: "2.20",
        PartQuantity.CROWN_DEPTH: "2.60",
        PartQuantity.BORE: "2.38",
    },
    # A pinion sits on a 2 mm shaft; its hub width is its whole length.
    GearRole.PINION: {
        PartQuantity.HUB_WIDTH: "4.00",
        PartQuantity.FACE_WIDTH: "3.00",
        PartQuantity.BORE: "2.00",
    },
}


@dataclass(frozen=True, kw_only=True)
class DemoPart:
    """A part and what was read of it when it came in."""

    name: str
    facts: PartFacts
    sizes: Mapping[PartQuantity, str]
    drawer: str = ""
    owner: Person | None = field(default=None, compare=False)


def tyre(
    size: str,
    width: str,
    *,
    end: str,
    facts: TyreFacts,
    drawer: str = "",
    owner: Person | None = None,
) -> DemoPart:
    return DemoPart(
        name=f"{end.capitalize()} tyre on wheel",
        facts=facts,
        sizes={
            PartQuantity.TYRE_DIAMETER: size,
            PartQuantity.TYRE_WIDTH: width,
            PartQuantity.BORE: "2.38",
        },
        drawer=drawer,
        owner=owner,
    )


def gear(
    teeth: int,
    diameter: str,
    *,
    role: GearRole,
    pitch: str,
    drawer: str = "",
    owner: Person | None = None,
) -> DemoPart:
    """Make a spur, crown or pinion."""
    return DemoPart(
        name=f"{role.capitalize()}, {teeth} teeth",
        facts=GearFacts(role=role, teeth=teeth, pitch_name=pitch),
        sizes={PartQuantity.GEAR_DIAMETER: diameter, **_OF_ROLE[role]},
        drawer=drawer,
        owner=owner,
    )


def motor(
    can: tuple[str, str, str],
    speed: str,
    resistance: str,
    *,
    family: str,
    drawer: str = "",
    owner: Person | None = None,
) -> DemoPart:
    """Make a motor; ``can`` is height, width and length as it is mounted."""
    height, width, length = can
    return DemoPart(
        name=f"Motor, {family}",
        facts=MotorFacts(family=family),
        sizes={
            PartQuantity.CAN_HEIGHT: height,
            PartQuantity.CAN_WIDTH: width,
            PartQuantity.CAN_LENGTH: length,
            PartQuantity.MOTOR_SPEED: speed,
            PartQuantity.MOTOR_RESISTANCE: resistance,
            PartQuantity.SHAFT_DIAMETER: "1.985",
            PartQuantity.SHAFT_LENGTH: "6.2",
        },
        drawer=drawer,
        owner=owner,
    )


SOFT_REAR: Final = TyreFacts(compound="soft", width_code="11", wheel="16 × 10")
FIRM_REAR: Final = TyreFacts(compound="firm", width_code="11", wheel="16 × 10")
SOFT_WIDE: Final = TyreFacts(compound="soft", width_code="15", wheel="17 × 14")
FIRM_FRONT: Final = TyreFacts(compound="firm", width_code="9", wheel="15 × 8")

_SOFT: Final = partial(tyre, end="rear", facts=SOFT_REAR, drawer="A1 rear tyres")
_FIRM: Final = partial(tyre, end="rear", facts=FIRM_REAR, drawer="A1 rear tyres")
_WIDE: Final = partial(tyre, end="rear", facts=SOFT_WIDE, drawer="A2 wide tyres")
_CROWN: Final = partial(gear, role=GearRole.CROWN, pitch="48 pitch", drawer="B1 crowns")
_SPUR: Final = partial(gear, role=GearRole.SPUR, pitch="64 pitch", drawer="B2 spurs")
_PINION: Final = partial(gear, role=GearRole.PINION, drawer="B3 pinions")
_MOTOR: Final = partial(motor, drawer="C1 motors")

#: In the drawers, for pairing, for repairs and for the next build.
SPARES: Final = (
    _SOFT("18.98", "10.8"),
    _SOFT("18.95", "10.8"),
    _SOFT("18.93", "10.9"),
    _SOFT("18.86", "10.8"),
    _FIRM("19.06", "10.8"),
    _FIRM("19.02", "10.9"),
    _FIRM("18.58", "10.7"),
    _FIRM("18.12", "10.8"),
    _WIDE("21.08", "15.0"),
    _WIDE("21.05", "15.0"),
    _WIDE("20.83", "14.9"),
    _WIDE("20.66", "15.0"),
    _CROWN(26, "14.83"),
    _CROWN(28, "15.88"),
    _CROWN(30, "16.92"),
    _CROWN(34, "18.22"),
    _SPUR(42, "17.45"),
    _SPUR(44, "18.26"),
    # Flat jaws over 45 teeth read 0.02 short.
    _SPUR(45, "18.63"),
    _PINION(9, "5.65", pitch="48 pitch"),
    _PINION(10, "6.35", pitch="48 pitch"),
    _PINION(12, "5.55", pitch="64 pitch"),
    _PINION(13, "5.87", pitch="64 pitch"),
    _MOTOR(("15.1", "20.1", "25.2"), "19340", "2.41", family="town"),
    _MOTOR(("15.0", "20.2", "25.1"), "18910", "2.47", family="town"),
    _MOTOR(("14.3", "20.4", "28.3"), "24180", "1.62", family="night"),
)
#: Places in ``SPARES``: promised to a member; worn out; bought for car 18, which
#: it does not suit; the odd one for car 11.
RESERVED, WORN_OUT, BIG_GEAR, SMALL_TYRE = 13, 7, 15, 6


def bring_part(demo: DemoPart, bench: Bench, *, act: Act) -> Part:
    """Take a part into stock and read its sizes."""
    part = receive_part(
        NewPart(facts=demo.facts, name=demo.name, drawer=demo.drawer, owner=demo.owner),
        act=act,
    )
    for quantity, text in demo.sizes.items():
        measure(part, quantity, text, bench, act=act)
    return part


def measure(
    part: Part, quantity: PartQuantity, text: str, bench: Bench, *, act: Act
) -> None:
    """Read one size of a part: a tyre's diameter at three angles."""
    is_round = quantity is PartQuantity.TYRE_DIAMETER
    texts = [str(Decimal(text) + angle) for angle in _ANGLES] if is_round else [text]
    instrument = _INSTRUMENTS.get(quantity, Instrument.CALIPER)
    gauge = bench.loaded(bench.mode(instrument), act.at)
    record_part_readings(part, quantity, texts, gauge=gauge, act=act)


def fill_drawers(
    bench: Bench, *, keeper: Person, member: Person, at: dt.datetime
) -> list[Part]:
    """Take the spares into stock, one reserved later and one retired."""
    minutes = (at + dt.timedelta(minutes=place) for place in range(len(SPARES)))
    parts = [
        bring_part(demo, bench, act=Act(by=keeper, at=moment))
        for demo, moment in zip(SPARES, minutes, strict=True)
    ]
    later = at + dt.timedelta(days=30)
    reserve_part(parts[RESERVED], act=Act(by=member, at=later))
    retire_part(
        parts[WORN_OUT],
        reason="Below the least diameter, no rubber left to true.",
        act=Act(by=keeper, at=later),
    )
    return parts
