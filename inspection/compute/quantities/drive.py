"""Registry rows: gears, motor and magnet."""

from inspection.compute.night import PartPosition
from inspection.compute.quantities.formulas import (
    half,
    half_across,
    motor_axle_offset,
    ratio,
    rollout,
    the_same,
    total,
)
from inspection.compute.quantities.quantity import (
    FromPart,
    Handling,
    Keeps,
    Kind,
    Quantity,
    WorkedOut,
)
from inventory.compute.measuring import GaugeMode, Instrument
from inventory.compute.numbers import Unit
from inventory.compute.stock import PartQuantity

_MM = Unit.MILLIMETRE
_CALIPER = (Instrument.CALIPER,)


def _teeth(part: str, place: PartPosition, low: float, high: float) -> Quantity:
    return Quantity(
        key=f"teeth_{part}",
        label=f"Teeth of the {part}",
        unit=Unit.ONE,
        low=low,
        high=high,
        kind=Kind.COUNTED,
        from_part=FromPart(places=(place,)),
        gauges=(Instrument.EYE,),
        decimals=0,
        handling=Handling.IN_THE_HAND,
        keeps=Keeps.UNTIL_REFITTED,
        how="Count once round from a tooth marked with a pen.",
        picture="teeth",
    )


def _can(side: str, size: PartQuantity, low: float, high: float, how: str) -> Quantity:
    return Quantity(
        key=f"can_{side}",
        label=f"Motor {side}, as mounted",
        unit=_MM,
        low=low,
        high=high,
        kind=Kind.MEASURED,
        from_part=FromPart(places=(PartPosition.MOTOR,), size=size),
        gauges=_CALIPER,
        mode=GaugeMode.OUTSIDE,
        repeatability=0.02,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REFITTED,
        how=how,
        picture="can",
    )


def _can_place(
    key: str, label: str, span: tuple[float, float], how: str, default: float | None
) -> Quantity:
    return Quantity(
        key=key,
        label=label,
        unit=_MM,
        low=span[0],
        high=span[1],
        kind=Kind.MEASURED,
        gauges=(Instrument.CALIPER, Instrument.RULE),
        mode=GaugeMode.OUTSIDE,
        repeatability=0.1,
        default=default,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REBUILT,
        how=how,
        picture="can_place",
    )


def _motor_height(
    key: str, label: str, span: tuple[float, float], how: str, formula: WorkedOut | None
) -> Quantity:
    return Quantity(
        key=key,
        label=label,
        unit=_MM,
        low=span[0],
        high=span[1],
        kind=Kind.TAKEN_OR_DERIVED if formula else Kind.MEASURED,
        formula=formula,
        gauges=_CALIPER,
        mode=GaugeMode.STEP,
        repeatability=0.02,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REBUILT,
        how=how,
        picture="motor_height",
    )


DRIVE = (
    _teeth("pinion", PartPosition.PINION, 6, 20),
    _teeth("gear", PartPosition.GEAR, 18, 60),
    Quantity(
        key="gear_ratio",
        label="Gear ratio",
        unit=Unit.ONE,
        low=1.5,
        high=6,
        kind=Kind.DERIVED,
        formula=WorkedOut(("teeth_gear", "teeth_pinion"), ratio),
        decimals=3,
        how="Teeth of the gear over teeth of the pinion.",
        picture="teeth",
    ),
    Quantity(
        key="rollout",
        label="Rollout, a motor turn",
        unit=_MM,
        low=5,
        high=50,
        kind=Kind.DERIVED,
        formula=WorkedOut(
            ("tyre_diameter_rear_left", "tyre_diameter_rear_right", "gear_ratio"),
            rollout,
        ),
        how="Round the mean rear tyre, over the gear ratio.",
        picture="teeth",
    ),
    Quantity(
        key="gear_diameter",
        label="Gear, true outside diameter",
        unit=_MM,
        low=8,
        high=26,
        kind=Kind.MEASURED,
        from_part=FromPart(
            places=(PartPosition.GEAR,), size=PartQuantity.GEAR_DIAMETER
        ),
        gauges=_CALIPER,
        mode=GaugeMode.OUTSIDE,
        repeatability=0.02,
        handling=Handling.IN_THE_HAND,
        keeps=Keeps.UNTIL_REFITTED,
        how="Over the teeth at three angles, rocking the gear between the jaws: "
        "the largest reading of an even count, the least of an odd one, which reads "
        "short and is corrected.",
        picture="gear_diameter",
    ),
    Quantity(
        key="gear_position_y",
        label="Gear left of the middle",
        unit=_MM,
        low=-40,
        high=40,
        kind=Kind.MEASURED,
        gauges=(Instrument.CALIPER, Instrument.RULE),
        mode=GaugeMode.OUTSIDE,
        repeatability=0.2,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REBUILT,
        how="From the middle of the rear axle to the middle of the gear's teeth, "
        "negative on the right.",
        picture="gear_place",
    ),
    Quantity(
        key="gear_design_offset",
        label="Shaft below the axle by the gear's design",
        unit=_MM,
        low=-4,
        high=4,
        kind=Kind.MEASURED,
        gauges=_CALIPER,
        mode=GaugeMode.STEP,
        repeatability=0.02,
        default=0.0,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REFITTED,
        how="What the gear's maker states; 0 for a shaft meant to point at the axle.",
        picture="motor_axle_offset",
    ),
    Quantity(
        key="motor_axle_offset",
        label="Motor shaft to axle line",
        unit=_MM,
        low=-3,
        high=3,
        kind=Kind.DERIVED,
        formula=WorkedOut(
            (
                "axle_height_rear_left",
                "axle_height_rear_right",
                "motor_axis_height",
                "gear_design_offset",
            ),
            motor_axle_offset,
        ),
        how="Middle of the rear axle over the motor's shaft, less the gear's own "
        "offset.",
        picture="motor_axle_offset",
    ),
    _can(
        "height",
        PartQuantity.CAN_HEIGHT,
        8,
        28,
        "The vertical size of the can as it sits in the chassis.",
    ),
    _can(
        "width",
        PartQuantity.CAN_WIDTH,
        10,
        28,
        "Across the shaft, level with the track.",
    ),
    _can(
        "length",
        PartQuantity.CAN_LENGTH,
        15,
        40,
        "Along the shaft, without the shaft and its bushes.",
    ),
    _motor_height(
        "motor_lift_rear",
        "Motor's underside over the chassis's, rear end",
        (-3, 12),
        "From the flat of the chassis to the can's lowest edge at its rear, negative "
        "when the can hangs below.",
        None,
    ),
    _motor_height(
        "motor_lift_front",
        "Motor's underside over the chassis's, front end",
        (-3, 12),
        "From the flat of the chassis to the can's lowest edge at its front; else as "
        "at the rear.",
        WorkedOut(("motor_lift_rear",), the_same),
    ),
    _motor_height(
        "shaft_height_in_can",
        "Shaft over the can's underside",
        (4, 14),
        "From the can's underside to the middle of the shaft; else half the can's "
        "height.",
        WorkedOut(("can_height",), half),
    ),
    _motor_height(
        "motor_axis_height",
        "Motor's shaft over the underside, at the pinion",
        (2, 20),
        "From the flat of the chassis to the middle of the shaft at the pinion; else "
        "the can's lift and the shaft's height in it.",
        WorkedOut(("motor_lift_rear", "shaft_height_in_can"), total),
    ),
    _can_place(
        "can_rear_x",
        "Can's rear end ahead of the rear axle",
        (-30, 60),
        "From the rear axle's centre forward to the can's rear edge.",
        None,
    ),
    _can_place(
        "can_front_x",
        "Can's front end ahead of the rear axle",
        (0, 100),
        "From the rear axle's centre forward to the can's front edge.",
        None,
    ),
    _can_place(
        "can_middle_y",
        "Can's middle left of the car's",
        (-25, 25),
        "From the car's middle to the can's; else the car's middle.",
        0.0,
    ),
    Quantity(
        key="can_half_width",
        label="Half the can's extent across the car",
        unit=_MM,
        low=4,
        high=22,
        kind=Kind.TAKEN_OR_DERIVED,
        formula=WorkedOut(("can_width", "layout"), half_across),
        gauges=_CALIPER,
        mode=GaugeMode.OUTSIDE,
        repeatability=0.05,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REBUILT,
        how="Half of what the can takes up from left to right; in-line it is half "
        "the can's width, else it is measured.",
        picture="can_place",
    ),
    Quantity(
        key="motor_speed",
        label="Motor speed, no load, at the stated voltage",
        unit=Unit.RPM,
        low=5_000,
        high=130_000,
        kind=Kind.MEASURED,
        from_part=FromPart(places=(PartPosition.MOTOR,), size=PartQuantity.MOTOR_SPEED),
        gauges=(Instrument.TACHOMETER,),
        repeatability=200.0,
        decimals=0,
        handling=Handling.BENCH,
        keeps=Keeps.UNTIL_REFITTED,
        how="The motor held, on a current-limited bench supply at the stated voltage, "
        "after a minute's run; eyes protected, nothing on the shaft.",
        picture="motor_bench",
    ),
    Quantity(
        key="motor_resistance",
        label="Winding resistance, cold",
        unit=Unit.OHM,
        low=0.05,
        high=30,
        kind=Kind.MEASURED,
        from_part=FromPart(
            places=(PartPosition.MOTOR,), size=PartQuantity.MOTOR_RESISTANCE
        ),
        gauges=(Instrument.OHMMETER,),
        repeatability=0.005,
        decimals=3,
        handling=Handling.BODY_OFF,
        keeps=Keeps.UNTIL_REFITTED,
        how="At the tabs of the cold motor, the leads' own resistance taken off; "
        "least over one slow turn of the shaft.",
        picture="motor_bench",
    ),
    Quantity(
        key="magnet_pull",
        label="Pull of the magnet in its posture",
        unit=Unit.GRAM,
        low=0,
        high=1_000,
        kind=Kind.MEASURED,
        stands=True,
        gauges=(Instrument.PULL_SCALE,),
        repeatability=3.0,
        decimals=0,
        handling=Handling.SCALE,
        keeps=Keeps.UNTIL_REFITTED,
        how="The car on the steel strip of the pull scale, standing as it races, its "
        "weight taken off.",
        picture="magnet_pull",
    ),
)
