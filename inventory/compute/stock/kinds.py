"""
The kinds of part, each declared once.

A kind is what stands here, a table of its facts in `inventory.models.parts` and a
migration.  Forms, lists, search, tables in and the fit read it from here.
Repeatabilities and plausible ranges are common practice and have no source; rubber
gives way.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Final

from inventory.compute.numbers import Unit
from inventory.compute.stock.declarations import (
    Fact,
    KindOfPart,
    Least,
    PartFacts,
    Size,
)
from inventory.compute.stock.words import (
    Fixing,
    GearRole,
    PartKind,
    PartQuantity,
    Section,
)

_FAMILY: Final = Fact(
    label="Family",
    headings=frozenset({"family", "type", "kind"}),
)
_MASS: Final = Size(
    quantity=PartQuantity.MASS,
    unit=Unit.GRAM,
    repeatability=0.05,
    headings=frozenset({"mass", "weight"}),
)
_BORE: Final = Size(
    quantity=PartQuantity.BORE,
    repeatability=0.005,
    headings=frozenset({"bore", "hole"}),
    plausible=(0.8, 10.0),
)


@dataclass(frozen=True, kw_only=True)
class TyreFacts(PartFacts):
    """What a tyre is, besides its sizes."""

    compound: Annotated[
        str,
        Fact(
            label="Compound",
            headings=frozenset({"compound", "rubber", "mix"}),
        ),
    ] = ""
    width_code: Annotated[
        str,
        Fact(
            label="Width code", longest=20, headings=frozenset({"code", "width code"})
        ),
    ] = ""
    wheel: Annotated[
        str, Fact(label="Wheel", headings=frozenset({"wheel", "rim", "wheels"}))
    ] = ""


@dataclass(frozen=True, kw_only=True)
class GearFacts(PartFacts):
    """What a spur, crown or pinion is, besides its sizes."""

    role: Annotated[GearRole, Fact(label="Gear", headings=frozenset({"role", "gear"}))]
    teeth: Annotated[
        int,
        Fact(
            label="Teeth",
            headings=frozenset({"teeth", "tooth", "z"}),
            say="{} teeth",
            on_label="{} T",
            low=4,
            high=400,
        ),
    ]
    pitch_name: Annotated[
        str,
        Fact(
            label="Pitch",
            headings=frozenset({"pitch", "module", "dp"}),
            longest=20,
            on_label="{}",
            looks=r"\d{2,3} ?(?:pitch|dp)|(?:module|mod\.?|m) ?\d?[.,]\d+",
            help="“64 pitch” or “module 0.4”; empty where it is not known",
        ),
    ] = ""
    family: Annotated[str, _FAMILY] = ""
    fixing: Annotated[
        Fixing, Fact(label="Fixing", headings=frozenset({"fixing", "fixed"}), say="")
    ] = Fixing.SCREW
    cut_for_teeth: Annotated[
        int | None,
        Fact(
            label="Crown: cut for a pinion of",
            headings=frozenset({"cut"}),
            say="for a pinion of {}",
            low=4,
            high=60,
            help="Its teeth; empty where it is not said.",
            only_of=("role", GearRole.CROWN),
            refusal="only a crown is cut for one pinion.",
        ),
    ] = None


@dataclass(frozen=True, kw_only=True)
class MotorFacts(PartFacts):
    """What a motor is, besides its sizes."""

    family: Annotated[str, _FAMILY] = ""


@dataclass(frozen=True, kw_only=True)
class GuideFacts(PartFacts):
    """What a guide is, the blade that follows the slot, besides its sizes."""

    family: Annotated[str, _FAMILY] = ""
    material: Annotated[
        str,
        Fact(
            label="Material",
            headings=frozenset({"material", "plastic"}),
        ),
    ] = ""


_TYRE: Final = KindOfPart(
    kind=PartKind.TYRE,
    plural="tyres",
    prefix="T",
    facts=TyreFacts,
    sizes=(
        Size(
            quantity=PartQuantity.TYRE_DIAMETER,
            repeatability=0.03,
            column="diameter",
            headings=frozenset(
                {"diameter", "dia", "diam", "ø", "⌀", "size", "od", "reading"}
                | {"readings", "middle", "centre", "d", "r", "angle", "measured"}
                | {"outside"}
            ),
            edges=MappingProxyType(
                {
                    Section.INNER: frozenset({"inner", "inside"}),
                    Section.OUTER: frozenset({"outer"}),
                }
            ),
            plausible=(8.0, 32.0),
        ),
        Size(
            quantity=PartQuantity.TYRE_WIDTH,
            repeatability=0.05,
            column="width",
            headings=frozenset({"width", "wide"}),
            plausible=(1.0, 60.0),
        ),
        Size(
            quantity=PartQuantity.OUT_OF_ROUND,
            repeatability=0.03,
            headings=frozenset({"round", "oor", "ovality"}),
            least=Least.ZERO,
        ),
        Size(
            quantity=PartQuantity.TAPER,
            repeatability=0.03,
            headings=frozenset({"taper", "cone"}),
            least=Least.BELOW_ZERO,
        ),
        Size(
            quantity=PartQuantity.TYRE_HARDNESS,
            unit=Unit.SHORE_A,
            repeatability=1.0,
            column="hardness",
            headings=frozenset({"hardness", "shore", "durometer"}),
            plausible=(1.0, 100.0),
        ),
        _BORE,
        _MASS,
    ),
)
_GEAR: Final = KindOfPart(
    kind=PartKind.GEAR,
    plural="gears",
    prefix="G",
    facts=GearFacts,
    sizes=(
        Size(
            quantity=PartQuantity.GEAR_DIAMETER,
            repeatability=0.02,
            column="diameter",
            headings=frozenset(
                {"diameter", "dia", "diam", "ø", "⌀", "size", "od", "outside", "over"}
            ),
            plausible=(3.0, 60.0),
        ),
        Size(
            quantity=PartQuantity.HUB_WIDTH,
            repeatability=0.02,
            headings=frozenset({"hub", "length"}),
        ),
        Size(
            quantity=PartQuantity.FACE_WIDTH,
            repeatability=0.02,
            headings=frozenset({"face", "width"}),
        ),
        Size(
            quantity=PartQuantity.CROWN_DEPTH,
            repeatability=0.02,
            headings=frozenset({"depth"}),
        ),
        _BORE,
        _MASS,
    ),
    is_sized=False,
)
_MOTOR: Final = KindOfPart(
    kind=PartKind.MOTOR,
    plural="motors",
    prefix="M",
    facts=MotorFacts,
    sizes=(
        Size(
            quantity=PartQuantity.MOTOR_SPEED,
            unit=Unit.RPM,
            repeatability=200.0,
            column="no-load speed",
            headings=frozenset({"rpm", "speed", "revs"}),
            plausible=(1_000.0, 200_000.0),
        ),
        Size(
            quantity=PartQuantity.MOTOR_RESISTANCE,
            unit=Unit.OHM,
            repeatability=0.005,
            column="resistance",
            headings=frozenset({"ohm", "ohms", "resistance", "ω", "mω"}),
            plausible=(0.01, 100.0),
        ),
        Size(
            quantity=PartQuantity.CAN_HEIGHT,
            repeatability=0.02,
            headings=frozenset({"height"}),
        ),
        Size(
            quantity=PartQuantity.CAN_WIDTH,
            repeatability=0.02,
            headings=frozenset({"width"}),
        ),
        Size(
            quantity=PartQuantity.CAN_LENGTH,
            repeatability=0.02,
            headings=frozenset({"length", "can length"}),
        ),
        Size(
            quantity=PartQuantity.SHAFT_DIAMETER,
            repeatability=0.002,
            headings=frozenset({"shaft", "shaft diameter"}),
        ),
        Size(
            quantity=PartQuantity.SHAFT_LENGTH,
            repeatability=0.05,
            headings=frozenset({"shaft length"}),
        ),
        _MASS,
    ),
    told_by=frozenset(
        {"rpm", "volt", "volts", "voltage", "amp", "amps", "ampere", "amperes"}
        | {"winding", "windings", "armature", "brush", "brushes", "magnet", "magnets"}
    ),
)
_GUIDE: Final = KindOfPart(
    kind=PartKind.GUIDE,
    plural="guides",
    prefix="F",
    facts=GuideFacts,
    sizes=(
        Size(
            quantity=PartQuantity.GUIDE_DEPTH,
            repeatability=0.03,
            column="depth",
            headings=frozenset({"depth", "deep", "blade"}),
            plausible=(2.0, 10.0),
        ),
        Size(
            quantity=PartQuantity.GUIDE_WIDTH,
            repeatability=0.02,
            column="width",
            headings=frozenset({"width", "thickness", "thick"}),
            plausible=(1.0, 3.5),
        ),
        _MASS,
    ),
)

#: Every kind, by its word.
KINDS: Final[Mapping[PartKind, KindOfPart]] = MappingProxyType(
    {one.kind: one for one in (_TYRE, _GEAR, _MOTOR, _GUIDE)}
)
#: How each quantity of a part is read, off whichever kind.
PART_SCALES: Final[Mapping[PartQuantity, Size]] = MappingProxyType(
    {size.quantity: size for kind in KINDS.values() for size in kind.sizes}
)


def kind_of(facts: PartFacts) -> KindOfPart:
    """
    Give the kind of part that facts are said of.

    Parameters
    ----------
    facts : PartFacts
        Of one part.

    Returns
    -------
    KindOfPart
        Its declaration.

    Examples
    --------
    >>> kind_of(MotorFacts(family="hand-out")).prefix
    'M'
    """
    return next(kind for kind in KINDS.values() if kind.facts is type(facts))
