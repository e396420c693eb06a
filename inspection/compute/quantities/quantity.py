"""
What a quantity is: the words of the registry, without its rows.

A quantity is something a rule may speak of.  Most are one number a car; a
*sided* one is a number a side.  Each number is a *column*, by which readings
and rules find each other.  The rows are in the ``quantities`` modules.
"""

from dataclasses import dataclass, field
from enum import IntEnum, StrEnum

from inspection.compute.geometry import Formula
from inspection.compute.night import PartPosition
from inventory.compute.measuring import GaugeMode, Instrument
from inventory.compute.numbers import Unit
from inventory.compute.stock import PartQuantity


class Kind(StrEnum):
    """How a quantity comes by its value."""

    MEASURED = "measured"
    DERIVED = "derived"
    TAKEN_OR_DERIVED = "taken or derived"
    DECLARED = "declared"
    COUNTED = "counted"
    LOOKED_AT = "looked at"


class Side(StrEnum):
    """Side of the car, seen from the driver's seat."""

    LEFT = "left"
    RIGHT = "right"


class Layout(StrEnum):
    """How the motor sits to the rear axle."""

    IN_LINE = "in-line"
    SIDEWINDER = "sidewinder"
    ANGLEWINDER = "anglewinder"


class FrontCarrier(StrEnum):
    """What carries the front of the car, a matter of its class."""

    FRONT_WHEELS = "front wheels"
    GUIDE = "guide"


class AxleHeightTo(StrEnum):
    """Which part of an axle its height was read to."""

    CENTRE = "centre"
    TOP = "top"
    UNDERSIDE = "underside"


class AxleHeld(StrEnum):
    """How an axle lay in its bearings while its height was read."""

    UP = "held up"
    HANGING = "hanging"


class Handling(IntEnum):
    """What must be done with the car to take a reading, least first."""

    LOOK = 0
    ON_THE_BLOCK = 1
    SCALE = 2
    IN_THE_HAND = 3
    BODY_OFF = 4
    WHEELS_OFF = 5
    BENCH = 6


class Keeps(StrEnum):
    """How long a reading stays true."""

    TONIGHT = "tonight"
    UNTIL_REFITTED = "until refitted"
    UNTIL_REBUILT = "until rebuilt"


class Whereabouts(StrEnum):
    """Where on the standing car a quantity has its value; some in several places."""

    REAR_OF_CHASSIS = "rear of the chassis"
    FRONT_OF_CHASSIS = "front of the chassis"
    UNDERSIDE = "underside"
    GEAR = "gear"
    CAN = "can"
    REAR_EDGES = "edges at the rear axle"
    FRONT_EDGES = "edges at the front axle"
    FOURTH_WHEEL = "fourth wheel"
    RAKE = "rake"
    TILT = "tilt"
    TYRES_PAST_BODY = "tyres past the body"

    @property
    def is_above_ground(self) -> bool:
        """Whether it hangs on how the car stands, and on which three feet."""
        return self not in {self.FOURTH_WHEEL, self.TYRES_PAST_BODY}


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """
    A formula and the columns that go into it, in its order.

    An input may be one that is worked out itself.
    """

    inputs: tuple[str, ...]
    by: Formula


@dataclass(frozen=True, kw_only=True, slots=True)
class FromPart:
    """
    A fitted part gives the value: at which places, a column each, by which size.

    Without a size it is the part's count of teeth.
    """

    places: tuple[PartPosition, ...]
    size: PartQuantity | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Quantity:
    """
    One row of the registry.

    Attributes
    ----------
    key : str
        Name in rulebooks, files and code.
    label : str
        Name on screen and paper.
    unit : Unit
        Unit of the value, its range, its uncertainty and its limits.
    low, high : float
        Plausible range; outside it a reading is asked about.
    kind : Kind
        How the value comes about.
    sided : bool
        Whether left and right have a value each.
    gauges : tuple of Instrument
        What it is usually taken with, the most usual first.
    mode : GaugeMode or None
        How the gauge is held.
    repeatability : float
        Standard deviation of repeated readings by one person, in the unit.
    decimals : int
        Decimal places shown.
    formula : WorkedOut or None
        How it is worked out from other columns, wherever the car stands.
    place : Whereabouts or None
        Where on the standing car it is found, if that is how it is derived.
    from_part : FromPart or None
        The part, and the size of it, that gives the value.
    is_round : bool
        Repeats go round it at 60 degrees, and its form counts till three were read.
    stands : bool
        It is taken on the standing car, and no formula gives it: what moves the
        car's stance moves this.
    only_on : FrontCarrier or None
        A car whose front is carried otherwise has no such quantity.
    optional : bool
        A formula does without it where it was not taken.
    default : float or None
        Value where none was taken.
    default_half_width : float
        The default is known to lie within this, all values alike likely.
    words : type of StrEnum or None
        The closed set that a declared word is from; its code is its position.
    handling : Handling
        Rank by which readings are asked.
    keeps : Keeps
        How long a reading stays true.
    how : str
        One sentence: how it is taken.
    picture : str
        Key of the drawing that shows where it is measured.
    columns : tuple of str
        Its key, or that of its left and right; not given, but made from the key.
    """

    key: str
    label: str
    unit: Unit
    low: float
    high: float
    kind: Kind
    sided: bool = False
    gauges: tuple[Instrument, ...] = ()
    mode: GaugeMode | None = None
    repeatability: float = 0.0
    decimals: int = 2
    formula: WorkedOut | None = None
    place: Whereabouts | None = None
    from_part: FromPart | None = None
    is_round: bool = False
    stands: bool = False
    only_on: FrontCarrier | None = None
    optional: bool = False
    default: float | None = None
    default_half_width: float = 0.0
    words: type[StrEnum] | None = None
    handling: Handling = Handling.ON_THE_BLOCK
    keeps: Keeps = Keeps.TONIGHT
    how: str
    picture: str
    columns: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Name the columns once: whoever judges a car asks for each, many times."""
        sides = tuple(f"{self.key}_{side}" for side in Side)
        object.__setattr__(self, "columns", sides if self.sided else (self.key,))

    @property
    def is_above_ground(self) -> bool:
        """Whether it hangs on how the car stands, and on which three feet."""
        return self.place is not None and self.place.is_above_ground

    @property
    def has_formula(self) -> bool:
        """Whether the value can be derived from other columns."""
        return self.formula is not None or self.place is not None
