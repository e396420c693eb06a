"""Registry rows: body, chassis, outline, weight and guide."""

from inspection.compute.night import PartPosition
from inspection.compute.quantities.formulas import balance, behind, half, the_same
from inspection.compute.quantities.quantity import (
    FromPart,
    Handling,
    Keeps,
    Kind,
    Quantity,
    Whereabouts,
    WorkedOut,
)
from inventory.compute.measuring import GaugeMode, Instrument
from inventory.compute.numbers import Unit
from inventory.compute.stock import PartQuantity

_MM = Unit.MILLIMETRE
_CALIPER = (Instrument.CALIPER,)

#: Corners of the underside's outline that a car may have.
OUTLINE_CORNERS = 8


def _geometry(
    key: str, label: str, span: tuple[float, float], how: str, picture: str
) -> Quantity:
    low, high = span
    return Quantity(
        key=key,
        label=label,
        unit=_MM,
        low=low,
        high=high,
        kind=Kind.MEASURED,
        gauges=(Instrument.CALIPER, Instrument.RULE),
        mode=GaugeMode.OUTSIDE,
        repeatability=0.1,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REBUILT,
        how=how,
        picture=picture,
    )


def _half_width(end: str) -> Quantity:
    return Quantity(
        key=f"datum_half_width_{end}",
        label=f"Half width of the underside at the {end} axle",
        unit=_MM,
        low=5,
        high=45,
        kind=Kind.TAKEN_OR_DERIVED,
        formula=WorkedOut(("chassis_width",), half),
        gauges=_CALIPER,
        mode=GaugeMode.OUTSIDE,
        repeatability=0.05,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REBUILT,
        how=f"Half the width of the flat of the chassis at the {end} axle; else half "
        "the chassis width.",
        picture="chassis_width",
    )


def _corner(number: int, axis: str, formula: WorkedOut | None) -> Quantity:
    along = {"x": "ahead of the rear axle", "y": "to the left", "z": "up"}[axis]
    span = {"x": (-60.0, 160.0), "y": (-45.0, 45.0), "z": (-2.0, 5.0)}[axis]
    return Quantity(
        key=f"outline_{number}_{axis}",
        label=f"Corner {number} of the underside, {along}",
        unit=_MM,
        low=span[0],
        high=span[1],
        kind=Kind.TAKEN_OR_DERIVED if formula else Kind.MEASURED,
        formula=formula,
        optional=True,
        gauges=(Instrument.CALIPER, Instrument.RULE),
        mode=GaugeMode.STEP if axis == "z" else GaugeMode.OUTSIDE,
        repeatability=0.02 if axis == "z" else 0.1,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REBUILT,
        how=f"Corner {number} of tail, pans, nose, guide tongue, magnet or screw "
        f"head, {along}; with no corner given a rectangle is taken, from the tail "
        "to the guide.",
        picture="outline",
    )


def _outline() -> tuple[Quantity, ...]:
    # Where no corner is given, the first is the tail's, on the left.
    first = {
        "x": WorkedOut(("chassis_tail",), behind),
        "y": WorkedOut(("datum_half_width_rear",), the_same),
    }
    return tuple(
        _corner(number, axis, first.get(axis) if number == 1 else None)
        for number in range(1, OUTLINE_CORNERS + 1)
        for axis in "xyz"
    )


BODY = (
    Quantity(
        key="body_width",
        label="Body width",
        unit=_MM,
        low=40,
        high=95,
        kind=Kind.MEASURED,
        gauges=(Instrument.BOX, Instrument.CALIPER),
        mode=GaugeMode.OUTSIDE,
        repeatability=0.1,
        keeps=Keeps.UNTIL_REFITTED,
        how="Across the widest place of the body without squeezing it.",
        picture="body_width",
    ),
    Quantity(
        key="body_length",
        label="Body length",
        unit=_MM,
        low=90,
        high=240,
        kind=Kind.MEASURED,
        gauges=(Instrument.RULE, Instrument.BOX),
        mode=GaugeMode.OUTSIDE,
        repeatability=0.2,
        decimals=1,
        keeps=Keeps.UNTIL_REFITTED,
        how="From the foremost to the hindmost point of the body.",
        picture="body_length",
    ),
    Quantity(
        key="body_height",
        label="Body height over the block",
        unit=_MM,
        low=15,
        high=70,
        kind=Kind.MEASURED,
        stands=True,
        gauges=(Instrument.HEIGHT_GAUGE,),
        mode=GaugeMode.STEP,
        repeatability=0.1,
        keeps=Keeps.UNTIL_REFITTED,
        how="From the block to the highest point of the body.",
        picture="body_height",
    ),
    Quantity(
        key="tyre_outside_body",
        label="Tyre past the body, a side",
        unit=_MM,
        low=-10,
        high=5,
        kind=Kind.DERIVED,
        place=Whereabouts.TYRES_PAST_BODY,
        how="Half of width over the tyres less body width, rear and front; the "
        "worse end counts.",
        picture="body_width",
    ),
    Quantity(
        key="weight_car",
        label="Weight, ready to race",
        unit=Unit.GRAM,
        low=40,
        high=320,
        kind=Kind.MEASURED,
        gauges=(Instrument.SCALE,),
        repeatability=0.05,
        decimals=1,
        handling=Handling.SCALE,
        how="The whole car on the scale, zeroed empty and out of any draught.",
        picture="scale",
    ),
    Quantity(
        key="weight_body",
        label="Weight of the body with interior",
        unit=Unit.GRAM,
        low=3,
        high=90,
        kind=Kind.MEASURED,
        gauges=(Instrument.SCALE,),
        repeatability=0.05,
        decimals=1,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REFITTED,
        how="The body with everything that stays in it, alone on the scale.",
        picture="scale",
    ),
    Quantity(
        key="guide_depth",
        label="Guide blade below its flange",
        unit=_MM,
        low=2,
        high=10,
        kind=Kind.MEASURED,
        gauges=_CALIPER,
        mode=GaugeMode.DEPTH,
        repeatability=0.05,
        handling=Handling.IN_THE_HAND,
        keeps=Keeps.UNTIL_REFITTED,
        how="From the flange down to the blade's lower edge, at its deepest.",
        picture="guide",
        from_part=FromPart(places=(PartPosition.GUIDE,), size=PartQuantity.GUIDE_DEPTH),
    ),
    Quantity(
        key="guide_width",
        label="Guide blade thickness",
        unit=_MM,
        low=1,
        high=3.5,
        kind=Kind.MEASURED,
        gauges=_CALIPER,
        mode=GaugeMode.OUTSIDE,
        repeatability=0.02,
        handling=Handling.IN_THE_HAND,
        keeps=Keeps.UNTIL_REFITTED,
        how="Across the blade at its thickest.",
        picture="guide",
        from_part=FromPart(places=(PartPosition.GUIDE,), size=PartQuantity.GUIDE_WIDTH),
    ),
    Quantity(
        key="guide_lead",
        label="Guide ahead of the rear axle",
        unit=_MM,
        low=55,
        high=150,
        kind=Kind.MEASURED,
        gauges=(Instrument.RULE, Instrument.CALIPER),
        mode=GaugeMode.OUTSIDE,
        repeatability=0.2,
        decimals=1,
        handling=Handling.IN_THE_HAND,
        keeps=Keeps.UNTIL_REBUILT,
        how="From the rear axle's centre forward to the guide's post.",
        picture="guide_lead",
    ),
    Quantity(
        key="guide_flange_height",
        label="Guide flange over the underside",
        unit=_MM,
        low=-6,
        high=12,
        kind=Kind.MEASURED,
        gauges=_CALIPER,
        mode=GaugeMode.STEP,
        repeatability=0.03,
        handling=Handling.IN_THE_HAND,
        keeps=Keeps.UNTIL_REBUILT,
        how="From the flat of the chassis to the flange face that rests on the "
        "track, negative when the face is below the flat.",
        picture="guide",
    ),
    Quantity(
        key="chassis_width",
        label="Chassis width",
        unit=_MM,
        low=15,
        high=85,
        kind=Kind.MEASURED,
        gauges=_CALIPER,
        mode=GaugeMode.OUTSIDE,
        repeatability=0.05,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REBUILT,
        how="Across the chassis at its widest.",
        picture="chassis_width",
    ),
    Quantity(
        key="chassis_thickness",
        label="Chassis thickness",
        unit=_MM,
        low=0.3,
        high=4,
        kind=Kind.MEASURED,
        gauges=(Instrument.MICROMETER, Instrument.CALIPER),
        mode=GaugeMode.OUTSIDE,
        repeatability=0.01,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REBUILT,
        how="Through the plate, clear of burrs and solder.",
        picture="chassis_width",
    ),
    _half_width("rear"),
    _half_width("front"),
    _geometry(
        "chassis_tail",
        "Chassis tail behind the rear axle",
        (0, 60),
        "From the rear axle's centre back to the hindmost edge of the chassis.",
        "outline",
    ),
    *_outline(),
    Quantity(
        key="centre_of_gravity_x",
        label="Centre of gravity ahead of the rear axle",
        unit=_MM,
        low=5,
        high=110,
        kind=Kind.TAKEN_OR_DERIVED,
        formula=WorkedOut(("wheelbase_left", "wheelbase_right"), balance),
        gauges=(Instrument.RULE,),
        mode=GaugeMode.OUTSIDE,
        repeatability=1.0,
        decimals=0,
        handling=Handling.IN_THE_HAND,
        keeps=Keeps.UNTIL_REBUILT,
        how="Where the car balances on a round bar laid across; else 0.4 of the "
        "wheelbase.",
        picture="centre_of_gravity",
    ),
    Quantity(
        key="centre_of_gravity_y",
        label="Centre of gravity left of the middle",
        unit=_MM,
        low=-20,
        high=20,
        kind=Kind.MEASURED,
        gauges=(Instrument.RULE,),
        mode=GaugeMode.OUTSIDE,
        repeatability=1.0,
        decimals=0,
        default=0.0,
        handling=Handling.IN_THE_HAND,
        keeps=Keeps.UNTIL_REBUILT,
        how="Where the car balances on a round bar laid along; else the middle.",
        picture="centre_of_gravity",
    ),
)
