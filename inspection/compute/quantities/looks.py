"""Registry rows: what is looked at (1 for yes, 0 for no) and what is declared."""

from enum import StrEnum
from typing import Final

from inspection.compute.quantities.quantity import (
    AxleHeightTo,
    AxleHeld,
    FrontCarrier,
    Handling,
    Keeps,
    Kind,
    Layout,
    Quantity,
)
from inventory.compute.measuring import Instrument
from inventory.compute.numbers import Unit

#: What a car is registered as, apart from its sizes: words that are not read.
WORDS_OF_CAR: Final = ("layout", "front_carrier")


def _look(key: str, label: str, how: str, *, stands: bool = False) -> Quantity:
    return Quantity(
        key=key,
        label=label,
        unit=Unit.ONE,
        low=0,
        high=1,
        kind=Kind.LOOKED_AT,
        stands=stands,
        gauges=(Instrument.EYE,),
        decimals=0,
        handling=Handling.LOOK,
        how=how,
        picture="look",
    )


def _word(
    key: str,
    label: str,
    words: type[StrEnum] | None,
    how: str,
    *,
    optional: bool = False,
) -> Quantity:
    return Quantity(
        key=key,
        label=label,
        unit=Unit.ONE,
        low=0,
        high=len(words) - 1 if words else 9_999,
        kind=Kind.DECLARED,
        decimals=0,
        words=words,
        optional=optional,
        handling=Handling.LOOK,
        keeps=Keeps.UNTIL_REBUILT,
        how=how,
        picture="look",
    )


LOOKED = (
    _look(
        "front_wheels_touch",
        "Front wheels touch",
        "On the block, a slip of paper under each front tyre is held fast.",
        stands=True,
    ),
    _look("motor_sealed", "Motor sealed", "The club's seal is on the can, unbroken."),
    _look(
        "magnets_allowed",
        "Only allowed magnets",
        "No magnet but the motor's own and those the class allows.",
    ),
    _look(
        "tyres_treated",
        "Tyres treated",
        "The tread is wet, sticky or smells of treatment; read the diameters again "
        "after ten minutes.",
    ),
    _look("lights_work", "Lights work", "All the lights that the class asks for burn."),
    _look(
        "driver_and_interior",
        "Driver and interior",
        "A driver and an interior as the class asks are in the body.",
    ),
    _look("body_marked", "Body marked", "Numbers and marks as the class asks."),
    _word(
        "layout",
        "Motor layout",
        Layout,
        "As the car's sheet declares.",
        optional=True,
    ),
    _word("scale", "Scale", None, "As the car's sheet declares."),
    _word(
        "front_carrier",
        "Front carried by",
        FrontCarrier,
        "As the class says: the front wheels or the guide.",
    ),
    _word(
        "axle_height_to",
        "Axle heights read to",
        AxleHeightTo,
        "Centre, top or underside of the axle; the centre where nothing is said.",
        optional=True,
    ),
    _word(
        "axle_held",
        "Axle while its height was read",
        AxleHeld,
        "Held up in its bearings, or hanging, which adds its play; held up where "
        "nothing is said.",
        optional=True,
    ),
    _word("compound", "Tyre compound", None, "As marked on the tyre or its bag."),
    _word("family", "Gear family", None, "As marked on the gear or its bag."),
)
