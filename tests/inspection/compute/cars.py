"""Fields of cars for the tests of rules: plain dictionaries made into arrays."""

from collections.abc import Mapping, Sequence

import numpy as np

from inspection.compute.judging.evaluation import Field, Rules
from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.quantities.registry import columns_of

#: A level car with the numbers of the design's worked example (rear 20.4 on 8.5,
#: front 18 on 7.5, wheelbase 95: ride heights 1.70 and 1.50), common practice, no
#: source; the rest invented.
LEVEL = {
    "front_carrier": 0.0,
    "layout": 0.0,
    "tyre_diameter_rear_left": 20.4,
    "tyre_diameter_rear_right": 20.4,
    "tyre_diameter_front_left": 18.0,
    "tyre_diameter_front_right": 18.0,
    "axle_height_rear_left": 8.5,
    "axle_height_rear_right": 8.5,
    "axle_height_front_left": 7.5,
    "axle_height_front_right": 7.5,
    "axle_station_span_rear": 40.0,
    "axle_station_span_front": 38.0,
    "width_rear": 76.0,
    "width_front": 68.0,
    "tyre_width_rear": 16.0,
    "tyre_width_front": 8.0,
    "body_width": 80.0,
    "wheelbase_left": 95.0,
    "wheelbase_right": 95.0,
    "guide_lead": 105.0,
    "guide_flange_height": -1.5,
    "chassis_width": 50.0,
    "chassis_tail": 12.0,
    "gear_diameter": 17.6,
    "gear_position_y": -10.0,
    "gear_design_offset": 0.0,
    "can_rear_x": 12.0,
    "can_front_x": 40.0,
    "can_width": 20.0,
    "can_height": 16.6,
    "motor_lift_rear": 0.2,
    "axle_to_reference_left": 60.1,
    "axle_to_reference_right": 60.0,
    "axle_reference_span": 44.0,
    "teeth_pinion": 10.0,
    "teeth_gear": 32.0,
    "weight_car": 181.0,
}

DERIVED = (
    "clearance_rear",
    "clearance_front",
    "clearance_least",
    "clearance_gear",
    "clearance_motor",
    "ride_height_rear",
    "ride_height_front",
    "twist",
    "rake",
    "tilt",
    "axle_level",
    "axle_square",
    "tyre_mismatch_rear",
    "tyre_mismatch_front",
    "track_rear",
    "track_front",
    "tyre_outside_body",
    "gear_ratio",
    "rollout",
    "motor_axle_offset",
)

_EXACT = {"front_carrier", "layout", "teeth_pinion", "teeth_gear"}


def make_field(
    cars: Sequence[Mapping[str, float]],
    *,
    random: float = 0.01,
    systematic: float = 0.01,
    gauge: int = 0,
    also: Sequence[str] = DERIVED,
) -> Field:
    """Make a field of cars given by column; all readings off one gauge."""
    more = [column for key in also for column in columns_of(key)]
    names = tuple(dict.fromkeys([*(name for car in cars for name in car), *more]))
    value = np.array([[car.get(name, np.nan) for name in names] for car in cars])
    measured = np.array([name not in _EXACT for name in names])
    return Field(
        columns=names,
        value=value,
        random=np.where(measured, random, 0.0) * np.ones_like(value),
        systematic=np.where(measured, systematic, 0.0) * np.ones_like(value),
        gauge=np.full(value.shape, gauge),
    )


def make_rules(
    field: Field,
    limits: Mapping[str, tuple[float | None, float | None]]
    | Sequence[tuple[str, float | None, float | None]],
    *,
    taken_only: Sequence[str] = (),
    decision_rule: DecisionRule = DecisionRule.SIMPLE_ACCEPTANCE,
) -> Rules:
    """Make a rulebook of one limit pair a quantity, about every car."""
    rows = (
        [(key, *pair) for key, pair in limits.items()]
        if isinstance(limits, Mapping)
        else limits
    )
    keys = [key for key, _, _ in rows]
    return Rules(
        lower=np.array([np.nan if low is None else low for _, low, _ in rows]),
        upper=np.array([np.nan if high is None else high for _, _, high in rows]),
        column=np.array(
            [field.columns.index(columns_of(key)[0]) for key in keys], dtype=np.int64
        ),
        mandatory=np.ones(len(keys), dtype=np.bool_),
        taken_only=np.array([key in taken_only for key in keys], dtype=np.bool_),
        applies=np.ones((field.car_count, len(keys)), dtype=np.bool_),
        decision_rule=decision_rule,
    )
