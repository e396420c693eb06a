"""Cars and parts for the tests of fit: plain figures made into envelopes."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from inspection.compute.fit import Envelope, Mounting
from inspection.compute.judging.evaluation import Field, Rules
from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.quantities.registry import Layout
from inspection.compute.what_if import Doubt, Gears, Motors, Pinions
from inventory.compute.stock.words import Fixing, GearRole
from tests.inspection.compute.cars import LEVEL, make_field, make_rules

SIDEWINDER = float(tuple(Layout).index(Layout.SIDEWINDER))
ANGLEWINDER = float(tuple(Layout).index(Layout.ANGLEWINDER))
IN_LINE = float(tuple(Layout).index(Layout.IN_LINE))
CROWN = tuple(GearRole).index(GearRole.CROWN)
SPUR = tuple(GearRole).index(GearRole.SPUR)

#: Level from nose to tail, so that a gear clears by half of 20 less its diameter.
FLAT = LEVEL | {
    "layout": SIDEWINDER,
    "tyre_diameter_rear_left": 20.0,
    "tyre_diameter_rear_right": 20.0,
    "axle_diameter": 2.38,
    "teeth_pinion": 9.0,
    "teeth_gear": 27.0,
    "gear_diameter": 14.5,
    "can_length": 28.0,
    "can_half_width": 14.0,
}

RULES: dict[str, tuple[float | None, float | None]] = {
    "clearance_gear": (0.8, None),
    "gear_ratio": (2.5, 4.0),
    "rollout": (15.0, None),
}


def column(*values: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array(values, dtype=np.float64)


def codes(*words: Fixing) -> np.ndarray[tuple[int], np.dtype[np.int8]]:
    return np.array([tuple(Fixing).index(word) for word in words], dtype=np.int8)


def field_of(cars: Sequence[Mapping[str, float]]) -> Field:
    """Make a field of cars whose axles are ground pins of a stated size."""
    field = make_field(cars)
    if "axle_diameter" in field.columns:
        place = field.columns.index("axle_diameter")
        field.random[:, place] = field.systematic[:, place] = 0.0
    return field


def one_car(
    values: Mapping[str, float] | None = None,
    rules: Mapping[str, tuple[float | None, float | None]] | None = None,
    *,
    decision_rule: DecisionRule = DecisionRule.SIMPLE_ACCEPTANCE,
) -> tuple[Rules, Field]:
    car = field_of([FLAT | dict(values or {})])
    return make_rules(car, rules or RULES, decision_rule=decision_rule), car


def doubt(random: float, systematic: float, gauge: int, *, rows: int = 1) -> Doubt:
    return Doubt(
        random=np.full(rows, random),
        systematic=np.full(rows, systematic),
        gauge=np.full(rows, gauge),
    )


def sidewinder(
    values: Mapping[str, float] | None = None,
    rules: Mapping[str, tuple[float | None, float | None]] | None = None,
    mounting: Mapping[str, float] | None = None,
    *,
    pinion: Pinions | None = None,
    motor: Motors | None = None,
) -> Envelope:
    rulebook, car = one_car(values, rules)
    sizes = {
        "slot_low_mm": 8.6,
        "slot_high_mm": 9.3,
        "axle_to_bar_mm": 9.2,
        "axle_room_mm": 8.0,
        "arch_width_mm": 17.0,
        "bay_height_mm": 18.0,
        "bay_width_mm": 22.0,
        "bay_length_mm": 30.0,
    } | dict(mounting or {})
    return Envelope(
        car=car,
        rulebook=rulebook,
        mounting=Mounting(
            doubts={}, **{name: column(size) for name, size in sizes.items()}
        ),
        pinion=pinion or a_pinion(),
        motor=motor or a_motor(),
    )


def in_line(
    values: Mapping[str, float] | None = None,
    mounting: Mapping[str, float] | None = None,
    *,
    rules: Mapping[str, tuple[float | None, float | None]] | None = None,
    pinion: Pinions | None = None,
) -> Envelope:
    """Make a car with its motor along it: shaft 8.5 over the flat, as the axle."""
    return sidewinder(
        {"layout": IN_LINE, "can_height": 16.6, "motor_lift_rear": 0.2}
        | dict(values or {}),
        rules,
        {
            "axle_room_mm": np.nan,
            "shaft_to_bearing_mm": 12.0,
            "spacers_mm": 0.5,
            "shaft_end_mm": 5.5,
            "lift_low_mm": 0.0,
            "lift_high_mm": np.inf,
        }
        | dict(mounting or {}),
        pinion=pinion,
    )


def a_pinion(**sizes: float) -> Pinions:
    usual = {
        "teeth": 9.0,
        "module_mm": 0.5,
        "bore_mm": 1.5,
        "face_width_mm": 3.0,
        "length_mm": 4.0,
    } | sizes
    sizes_mm: dict[str, Any] = {name: column(size) for name, size in usual.items()}
    return Pinions(**sizes_mm, fixing=codes(Fixing.PRESS))


def a_motor(**sizes: float) -> Motors:
    usual = {
        "can_height_mm": 16.6,
        "can_width_mm": 20.0,
        "can_length_mm": 28.0,
        "shaft_diameter_mm": 1.5,
        "shaft_length_mm": 6.0,
    } | sizes
    sizes_mm: dict[str, Any] = {name: column(size) for name, size in usual.items()}
    return Motors(**sizes_mm)


def gears(rows: list[dict[str, float]], **words: Any) -> Gears:
    """Gears of module 0.5 that go on the axle, but for what each row says."""
    usual = {
        "module_mm": 0.5,
        "bore_mm": 2.40,
        "hub_width_mm": 6.0,
        "design_offset_mm": 0.0,
        "face_width_mm": np.nan,
        "crown_depth_mm": np.nan,
        "cut_for_teeth": np.nan,
    }
    full = [usual | row for row in rows]
    for row in full:
        row.setdefault("outside_diameter_mm", row["module_mm"] * (row["teeth"] + 2))
    sizes: dict[str, Any] = {
        name: column(*(row[name] for row in full)) for name in full[0]
    }
    return Gears(**sizes, **words)
