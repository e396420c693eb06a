"""Forms of “Will it fit”: pick a car, type its numbers, or describe a gear in hand."""

import math
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from inspection.compute.fit import MOST_ROOM_MM, MOUNTING_SIZES, OPEN_ENDED
from inspection.compute.quantities import Layout
from inspection.forms.fit.fields import RoomField, SizeField, TeethField, size_of
from inspection.forms.pick import CarField
from inspection.loaders.fit.stock import FitKind
from inspection.loaders.fit.typed import GearInHand, TypedCar
from inspection.models import Car
from inspection.words.rooms import room_how, room_name
from inventory.compute.gears import (
    LEAST_TEETH,
    MOST_TEETH,
    PITCHES,
    tip_form_u_mm,
    true_outside_diameter_mm,
)
from inventory.compute.stock import Fixing, GearRole
from inventory.forms.base import PageForm
from inventory.words.enumerations import word_choices

PITCH_CHOICES = [("", _("not known")), *((p.name, p.name) for p in PITCHES)]
KINDS = [
    (FitKind.GEAR, _("Gears")),
    (FitKind.PINION, _("Pinions")),
    (FitKind.TYRES, _("Tyres, in pairs")),
    (FitKind.MOTOR, _("Motors")),
]


class PickCarForm(PageForm):
    """Which car, and what is looked for."""

    car = CarField(label=_("Car"), help_text=_("Its number, name or tag."))
    kind = forms.ChoiceField(label=_("Looking for"), choices=KINDS)
    wanted = TeethField(
        label=_("Teeth I have or want"), low=LEAST_TEETH, high=MOST_TEETH
    )

    def __init__(self, data: Any = None, *, cars: QuerySet[Car]) -> None:
        super().__init__(data, initial={"kind": FitKind.GEAR})
        self.fields["car"].look_among(cars)  # type: ignore[attr-defined]


class TypedCarForm(PageForm):
    """A car's numbers, for one that is not kept here."""

    layout = forms.ChoiceField(
        label=_("How the motor sits"), choices=word_choices(Layout)
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
    wanted = TeethField(
        label=_("Teeth I have or want"), low=LEAST_TEETH, high=MOST_TEETH
    )

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, initial={"kind": FitKind.GEAR})
        for size in MOUNTING_SIZES:
            self.fields[size] = room_field(size, room_name(size))

    @property
    def room_fields(self) -> list[forms.BoundField]:
        """The sizes that no rule speaks of, in their order."""
        return [self[size] for size in MOUNTING_SIZES]

    def typed(self) -> TypedCar:
        """Give the car as it was typed."""
        cleaned = self.cleaned_data
        return TypedCar(
            layout=Layout(cleaned["layout"]),
            tyre_mm=cleaned["tyre"],
            axle_mm=cleaned["axle"],
            gear_clearance_mm=cleaned["gear_clearance"],
            gear_mm=cleaned["gear_mm"],
            gear_teeth=_or_nan(cleaned["gear_teeth"]),
            pinion_teeth=_or_nan(cleaned["pinion_teeth"]),
            pinion_pitch=cleaned["pinion_pitch"],
            pinion_face_mm=cleaned["pinion_face"],
            axle_height_mm=cleaned["axle_height"],
            can_height_mm=cleaned["can_height"],
            motor_lift_mm=cleaned["motor_lift"],
            shaft_mm=cleaned["shaft"],
            shaft_length_mm=cleaned["shaft_length"],
            room_mm={
                size: cleaned[size]
                for size in MOUNTING_SIZES
                if not math.isnan(cleaned[size])
            },
        )


class InHandForm(PageForm):
    """A gear without a tag: what can be counted and measured of it."""

    role = forms.ChoiceField(label=_("What it is"), choices=word_choices(GearRole))
    teeth = TeethField(
        label=_("Teeth"), low=LEAST_TEETH, high=MOST_TEETH, required=True
    )
    over = SizeField(
        label=_("Over its teeth"),
        low=2,
        high=80,
        required=True,
        help_text=_(
            "As the caliper reads it, with the jaws' wide faces. Rock the gear between "
            "them: the largest reading of an even count of teeth, the least of an odd."
        ),
    )
    pitch = forms.ChoiceField(label=_("Pitch"), choices=PITCH_CHOICES, required=False)
    bore = SizeField(
        label=_("Bore"), low=0.8, high=6, help_text=_("By pin gauge, or as marked.")
    )
    fixing = forms.ChoiceField(
        label=_("How it holds"),
        choices=word_choices(Fixing),
        required=False,
    )
    hub = SizeField(label=_("Width over the hub"), low=0.5, high=25)
    face = SizeField(label=_("Face of the teeth"), low=0.5, high=15)
    depth = SizeField(label=_("A crown's depth"), low=0.2, high=15)

    def in_hand(self, pitch: str = "") -> GearInHand:
        """Give the gear, with a pitch that was concluded or typed."""
        cleaned = self.cleaned_data
        return GearInHand(
            role=GearRole(cleaned["role"]),
            teeth=cleaned["teeth"],
            outside_diameter_mm=self.true_diameter_mm,
            pitch=pitch or cleaned["pitch"],
            bore_mm=cleaned["bore"],
            fixing=Fixing(cleaned["fixing"] or Fixing.SCREW),
            hub_width_mm=cleaned["hub"],
            face_width_mm=cleaned["face"],
            crown_depth_mm=cleaned["depth"],
        )

    @property
    def true_diameter_mm(self) -> float:
        """What the reading means: flat jaws read an odd count of teeth short."""
        over: float = self.cleaned_data["over"]
        return float(true_outside_diameter_mm(over, self.cleaned_data["teeth"]))

    @property
    def form_u_mm(self) -> float:
        """What the shape of the tips leaves in doubt of it."""
        over: float = self.cleaned_data["over"]
        return float(tip_form_u_mm(over, self.cleaned_data["teeth"]))


def room_field(size: str, label: str) -> SizeField:
    """Give the field of a size that a part must fit."""
    kind = RoomField if size in OPEN_ENDED else SizeField
    how = {"how": room_how(size)}
    return kind(
        label=label,
        low=0,
        high=MOST_ROOM_MM,
        help_text=_("%(how)s; “none” where nothing is in the way.") % how
        if size in OPEN_ENDED
        else _("%(how)s.") % how,
    )


def _or_nan(teeth: int | None) -> float:
    return math.nan if teeth is None else float(teeth)
