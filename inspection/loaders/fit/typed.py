"""Cars and gears of which only typed numbers are known."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np

from inspection.compute.fit import Envelope, Mounting
from inspection.compute.judging import DecisionRule, Rules
from inspection.compute.quantities import FrontCarrier, Layout
from inspection.compute.stance import Field
from inspection.compute.what_if import Gears, Motors, Pinions
from inspection.loaders.fit.cars import no_rules
from inspection.loaders.fit.parts import named_module_mm
from inspection.loaders.fit.stock import FitKind
from inventory.compute.stock import Fixing, GearRole

_NOT_KNOWN: Final = float("nan")


@dataclass(frozen=True, kw_only=True)
class TypedCar:
    """
    A car as somebody types it: millimetres, NaN where it was left out.

    It is taken to stand level on rear tyres of one size.
    """

    layout: Layout
    tyre_mm: float
    axle_mm: float = _NOT_KNOWN
    gear_clearance_mm: float = _NOT_KNOWN
    gear_mm: float = _NOT_KNOWN
    gear_teeth: float = _NOT_KNOWN
    pinion_teeth: float = _NOT_KNOWN
    pinion_pitch: str = ""
    pinion_face_mm: float = _NOT_KNOWN
    axle_height_mm: float = _NOT_KNOWN
    can_height_mm: float = _NOT_KNOWN
    motor_lift_mm: float = _NOT_KNOWN
    shaft_mm: float = _NOT_KNOWN
    shaft_length_mm: float = _NOT_KNOWN
    room_mm: Mapping[str, float] = field(default_factory=dict)

    @property
    def has_gear(self) -> bool:
        """Whether it is known how large the gear on it is."""
        return not np.isnan(self.gear_mm)

    @property
    def field(self) -> Field:
        """What is known of it, as one row."""
        # Level: a gear as large as the tyre would just touch the track.
        gear_mm = self.gear_mm if self.has_gear else self.tyre_mm
        values = {
            "layout": float(tuple(Layout).index(self.layout)),
            "front_carrier": float(
                tuple(FrontCarrier).index(FrontCarrier.FRONT_WHEELS)
            ),
            "tyre_diameter_rear_left": self.tyre_mm,
            "tyre_diameter_rear_right": self.tyre_mm,
            "axle_diameter": self.axle_mm,
            "axle_height_rear_left": self.axle_height_mm,
            "axle_height_rear_right": self.axle_height_mm,
            "can_height": self.can_height_mm,
            "motor_lift_rear": self.motor_lift_mm,
            "teeth_gear": self.gear_teeth,
            "teeth_pinion": self.pinion_teeth,
            "gear_diameter": gear_mm,
            "clearance_gear": (self.tyre_mm - gear_mm) / 2.0,
        }
        shape = (1, len(values))
        return Field(
            columns=tuple(values),
            value=np.array([list(values.values())]),
            random=np.zeros(shape),
            systematic=np.zeros(shape),
            gauge=np.full(shape, -1, dtype=np.int64),
        )

    def rulebook(self, kind: FitKind) -> Rules:
        """One rule, on the clearance under the gear, where it can be judged."""
        has_gear = self.has_gear or kind is FitKind.GEAR
        if np.isnan(self.gear_clearance_mm) or not has_gear:
            return no_rules()
        return Rules(
            lower=np.array([self.gear_clearance_mm]),
            upper=np.array([_NOT_KNOWN]),
            column=np.array([self.field.columns.index("clearance_gear")]),
            mandatory=np.ones(1, dtype=np.bool_),
            taken_only=np.zeros(1, dtype=np.bool_),
            applies=np.ones((1, 1), dtype=np.bool_),
            decision_rule=DecisionRule.SIMPLE_ACCEPTANCE,
        )

    def envelope(self, kind: FitKind) -> Envelope:
        """Give what a part of that kind must fit."""
        sizes: dict[str, Any] = {s: np.array([mm]) for s, mm in self.room_mm.items()}
        return Envelope(
            car=self.field,
            rulebook=self.rulebook(kind),
            mounting=Mounting(**sizes),
            gear=Gears(teeth=np.array([self.gear_teeth])),
            pinion=Pinions(
                teeth=np.array([self.pinion_teeth]),
                module_mm=np.array([named_module_mm(self.pinion_pitch)]),
                face_width_mm=np.array([self.pinion_face_mm]),
            ),
            motor=Motors(
                can_height_mm=np.array([self.can_height_mm]),
                shaft_diameter_mm=np.array([self.shaft_mm]),
                shaft_length_mm=np.array([self.shaft_length_mm]),
            ),
        )


@dataclass(frozen=True, kw_only=True)
class GearInHand:
    """A gear without a tag: what was counted, measured and concluded of it."""

    role: GearRole
    teeth: int
    outside_diameter_mm: float
    pitch: str = ""
    bore_mm: float = _NOT_KNOWN
    fixing: Fixing = Fixing.SCREW
    hub_width_mm: float = _NOT_KNOWN
    face_width_mm: float = _NOT_KNOWN
    crown_depth_mm: float = _NOT_KNOWN

    def at(self, pitch: str) -> "GearInHand":
        """Give the gear as it is if it has this pitch."""
        return replace(self, pitch=pitch)

    @property
    def table(self) -> Gears | Pinions:
        """The gear as one row."""
        shared: dict[str, Any] = {
            "teeth": np.array([float(self.teeth)]),
            "module_mm": np.array([named_module_mm(self.pitch)]),
            "bore_mm": np.array([self.bore_mm]),
            "fixing": np.array([tuple(Fixing).index(self.fixing)], dtype=np.int8),
            "face_width_mm": np.array([self.face_width_mm]),
        }
        if self.role is GearRole.PINION:
            return Pinions(**shared, length_mm=np.array([self.hub_width_mm]))
        return Gears(
            **shared,
            outside_diameter_mm=np.array([self.outside_diameter_mm]),
            role=np.array([tuple(GearRole).index(self.role)], dtype=np.int8),
            hub_width_mm=np.array([self.hub_width_mm]),
            crown_depth_mm=np.array([self.crown_depth_mm]),
        )
