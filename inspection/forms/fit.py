"""Forms of “Will it fit”: pick a car, type its numbers, or describe a gear in hand."""

import math
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.compute.envelope import MOUNTING_SIZES
from inspection.compute.quantities import Layout
from inspection.compute.rooms import MOST_ROOM_MM, OPEN_ENDED, ROOM_LABELS
from inspection.forms.fit_fields import RoomField, SizeField, TeethField, size_of
from inspection.loaders.fit import FitKind
from inspection.loaders.fit_typed import GearInHand, TypedCar
from inspection.models import Car
from inventory.compute.gearing import PITCHES, true_outside_diameter_mm
from inventory.compute.spurs import LEAST_TEETH, MOST_TEETH
from inventory.compute.stock import Fixing, GearRole
from inventory.forms.base import PageForm

PITCH_CHOICES = [("", _("not known")), *((p.name, p.name) for p in PITCHES)]
KINDS = [
    (FitKind.GEAR, _("Gears")),
    (FitKind.PINION, _("Pinions")),
    (FitKind.TYRES, _("Tyres, in pairs")),
    (FitKind.MOTOR, _("Motors")),
]


class PickCarForm(PageForm):
    """Which car, and what is looked for."""

    car = forms.ChoiceField(label=_("Car"))
    kind = forms.ChoiceField(label=_("Looking for"), choices=KINDS)

    def __init__(self, data: Any = None, *, cars: list[Car]) -> None:
        super().__init__(data, initial={"kind": FitKind.GEAR})
        self.fields["car"].choices = [  # type: ignore[attr-defined]
            (car.number, str(car)) for car in cars
        ]


class TypedCarForm(PageForm):
    """A car's numbers, for one that is not kept here."""

    layout = forms.ChoiceField(
        label=_("How the motor sits"), choices=[(one, one) for one in Layout]
    )
    tyre = size_of("tyre_diameter_rear", label=_("Rear tyre"), required=True)
    axle = size_of("axle_diameter", label=_("Axle"))
    gear_clearance = size_of(
        "clearance_gear", label=_("Least gap wanted under the gear")
    )
    pinion_teeth = TeethField(label=_("Pinion, teeth"), low=LEAST_TEETH, high=60)
    pinion_pitch = forms.ChoiceField(
        label=_("Pinion, pitch"), choices=PITCH_CHOICES, required=False
    )
    gear_teeth = TeethField(
        label=_("Gear on it now, teeth"), low=LEAST_TEETH, high=MOST_TEETH
    )
    gear_mm = size_of("gear_diameter", label=_("Gear on it now, over its teeth"))
    pinion_face = SizeField(label=_("Pinion, face"), low=0.5, high=15)
    axle_height = size_of("axle_height_rear", label=_("Axle over the underside"))
    can_height = size_of("can_height", label=_("Motor can, height as mounted"))
    motor_lift = size_of("motor_lift_rear", label=_("Motor's lift"))
    shaft = SizeField(label=_("Motor shaft"), low=0.8, high=4)
    shaft_length = SizeField(label=_("Motor shaft, bare length"), low=1, high=25)
    kind = forms.ChoiceField(label=_("Looking for"), choices=KINDS)

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, initial={"kind": FitKind.GEAR})
        for size, label in ROOM_LABELS.items():
            self.fields[size] = room_field(size, label)

    @property
    def room_fields(self) -> list[forms.BoundField]:
        """The sizes that no rule speaks of, in their order."""
        return [self[size] for size in MOUNTING_SIZES]

    def typed(self) -> TypedCar:
        """Give the car as it was typed."""
        said = self.cleaned_data
        return TypedCar(
            layout=Layout(said["layout"]),
            tyre_mm=said["tyre"],
            axle_mm=said["axle"],
            gear_clearance_mm=said["gear_clearance"],
            gear_mm=said["gear_mm"],
            gear_teeth=_or_nan(said["gear_teeth"]),
            pinion_teeth=_or_nan(said["pinion_teeth"]),
            pinion_pitch=said["pinion_pitch"],
            pinion_face_mm=said["pinion_face"],
            axle_height_mm=said["axle_height"],
            can_height_mm=said["can_height"],
            motor_lift_mm=said["motor_lift"],
            shaft_mm=said["shaft"],
            shaft_length_mm=said["shaft_length"],
            room_mm={
                size: said[size]
                for size in MOUNTING_SIZES
                if not math.isnan(said[size])
            },
        )


class InHandForm(PageForm):
    """A gear without a tag: what can be counted and measured of it."""

    role = forms.ChoiceField(
        label=_("What it is"), choices=[(one, one) for one in GearRole]
    )
    teeth = TeethField(
        label=_("Teeth"), low=LEAST_TEETH, high=MOST_TEETH, required=True
    )
    over = SizeField(
        label=_("Over its teeth"),
        low=2,
        high=80,
        required=True,
        help_text=_("As the caliper reads it, with the jaws' wide faces."),
    )
    pitch = forms.ChoiceField(label=_("Pitch"), choices=PITCH_CHOICES, required=False)
    bore = SizeField(
        label=_("Bore"), low=0.8, high=6, help_text=_("By pin gauge, or as marked.")
    )
    fixing = forms.ChoiceField(
        label=_("How it holds"),
        choices=[(one, one) for one in Fixing],
        required=False,
    )
    hub = SizeField(label=_("Width over the hub"), low=0.5, high=25)

    def in_hand(self, pitch: str = "") -> GearInHand:
        """Give the gear, with a pitch that was concluded or typed."""
        said = self.cleaned_data
        return GearInHand(
            role=GearRole(said["role"]),
            teeth=said["teeth"],
            outside_diameter_mm=self.true_diameter_mm,
            pitch=pitch or said["pitch"],
            bore_mm=said["bore"],
            fixing=Fixing(said["fixing"] or Fixing.SCREW),
            hub_width_mm=said["hub"],
        )

    @property
    def true_diameter_mm(self) -> float:
        """What the reading means: flat jaws read an odd count of teeth short."""
        over: float = self.cleaned_data["over"]
        return float(true_outside_diameter_mm(over, self.cleaned_data["teeth"]))


def room_field(size: str, label: str) -> SizeField:
    """Give the field of a size that a part must fit."""
    kind = RoomField if size in OPEN_ENDED else SizeField
    how = MOUNTING_SIZES[size]
    return kind(
        label=label,
        low=0,
        high=MOST_ROOM_MM,
        help_text=f"{how[0].upper()}{how[1:]}"
        + ("; “none” where nothing is in the way." if size in OPEN_ENDED else "."),
    )


def _or_nan(teeth: int | None) -> float:
    return math.nan if teeth is None else float(teeth)
