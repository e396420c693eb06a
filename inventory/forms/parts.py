"""Forms of the parts pages."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.actions.stock import (
    GearFacts,
    MotorFacts,
    NewPart,
    PartCorrection,
    TyreFacts,
)
from inventory.compute.errors import ComputeError
from inventory.compute.stock import (
    Fixing,
    GearRole,
    PartKind,
    PartQuantity,
    PartState,
)
from inventory.compute.tags import read_tag
from inventory.compute.units import Unit, parse_reading
from inventory.forms.base import PageForm
from inventory.loaders.gauges import LoadedGauge
from inventory.loaders.parts import PartSearch
from inventory.models import Person
from inventory.models.words import choices_of

ANY: tuple[str, Any] = ("", _("any"))
NUMBER = {"inputmode": "decimal", "class": "number-input short", "autocomplete": "off"}


class LengthField(forms.CharField):
    """A length as people type it; its value is whole millionths of a millimetre."""

    def __init__(self, **options: Any) -> None:
        super().__init__(widget=forms.TextInput(attrs=NUMBER), **options)

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return parse_reading(text, unit=Unit.MILLIMETRE).millionths
        except ComputeError as error:
            raise forms.ValidationError(str(error), code=error.code) from error


class PartSearchForm(PageForm):
    """What a search of the parts asks."""

    q = forms.CharField(label=_("Tag, name or drawer"), required=False, max_length=60)
    kind = forms.ChoiceField(
        label=_("Kind"), choices=[ANY, *choices_of(PartKind)], required=False
    )
    state = forms.ChoiceField(
        label=_("State"), choices=[ANY, *choices_of(PartState)], required=False
    )
    compound = forms.CharField(label=_("Compound"), required=False, max_length=30)
    teeth = forms.IntegerField(
        label=_("Teeth"),
        required=False,
        min_value=1,
        widget=forms.TextInput(attrs=NUMBER),
    )
    smallest = LengthField(label=_("From size"), required=False)
    largest = LengthField(label=_("To size"), required=False)
    mine = forms.BooleanField(label=_("Held by me"), required=False)

    def search(self, person: Person) -> PartSearch:
        said = self.cleaned_data if self.is_valid() else {}
        return PartSearch(
            words=as_tag(said.get("q", "")),
            kind=said.get("kind", ""),
            state=said.get("state", ""),
            compound=said.get("compound", ""),
            teeth=said.get("teeth"),
            smallest=said.get("smallest"),
            largest=said.get("largest"),
            held_by=person if said.get("mine") else None,
        )


def as_tag(words: str) -> str:
    """Read a scanned tag as it is printed; leave other words alone."""
    try:
        return read_tag(words)
    except ComputeError:
        return words


class NewPartForm(PageForm):
    """A part that comes in; the fields of its kind only."""

    name = forms.CharField(label=_("Name"), required=False, max_length=80)
    drawer = forms.CharField(label=_("Drawer"), required=False, max_length=40)

    def new_part(self) -> NewPart:
        said = dict(self.cleaned_data)
        name, drawer = said.pop("name"), said.pop("drawer")
        return NewPart(facts=self.facts(said), name=name, drawer=drawer)

    def facts(self, said: dict[str, Any]) -> TyreFacts | GearFacts | MotorFacts:
        raise NotImplementedError


class NewTyreForm(NewPartForm):
    compound = forms.CharField(label=_("Compound"), required=False, max_length=30)
    width_code = forms.CharField(label=_("Width code"), required=False, max_length=20)
    wheel = forms.CharField(label=_("Wheel"), required=False, max_length=30)

    def facts(self, said: dict[str, Any]) -> TyreFacts:
        return TyreFacts(**said)


class NewGearForm(NewPartForm):
    role = forms.ChoiceField(label=_("Gear"), choices=choices_of(GearRole))
    teeth = forms.IntegerField(
        label=_("Teeth"),
        min_value=4,
        max_value=400,
        widget=forms.TextInput(attrs=NUMBER),
    )
    pitch_name = forms.CharField(
        label=_("Pitch"),
        required=False,
        max_length=20,
        help_text=_("“64 pitch” or “module 0.4”; empty where it is not known"),
    )
    family = forms.CharField(label=_("Family"), required=False, max_length=30)
    fixing = forms.ChoiceField(label=_("Fixing"), choices=choices_of(Fixing))
    cut_for_teeth = forms.IntegerField(
        label=_("Crown: cut for a pinion of"),
        min_value=4,
        max_value=60,
        required=False,
        help_text=_("Its teeth; empty where it is not said."),
        widget=forms.TextInput(attrs=NUMBER),
    )

    def clean(self) -> None:
        super().clean()
        said = self.cleaned_data
        if said.get("cut_for_teeth") and said.get("role") != GearRole.CROWN:
            self.add_error(
                "cut_for_teeth",
                forms.ValidationError(
                    _("“%(teeth)d” was typed; only a crown is cut for one pinion."),
                    code="crown_is_cut_for_a_pinion",
                    params={"teeth": said["cut_for_teeth"]},
                ),
            )

    def facts(self, said: dict[str, Any]) -> GearFacts:
        return GearFacts(
            role=GearRole(said["role"]),
            teeth=said["teeth"],
            pitch_name=said["pitch_name"],
            family=said["family"],
            fixing=Fixing(said["fixing"]),
            cut_for_teeth=said["cut_for_teeth"],
        )


class NewMotorForm(NewPartForm):
    family = forms.CharField(label=_("Family"), required=False, max_length=30)

    def facts(self, said: dict[str, Any]) -> MotorFacts:
        return MotorFacts(**said)


NEW_PART_FORMS: dict[PartKind, type[NewPartForm]] = {
    PartKind.TYRE: NewTyreForm,
    PartKind.GEAR: NewGearForm,
    PartKind.MOTOR: NewMotorForm,
}


class CorrectPartForm(PageForm):
    name = forms.CharField(label=_("Name"), required=False, max_length=80)
    drawer = forms.CharField(label=_("Drawer"), required=False, max_length=40)
    version = forms.IntegerField(widget=forms.HiddenInput)

    def said(self) -> PartCorrection:
        return PartCorrection(**self.cleaned_data)


class MovePartForm(PageForm):
    """Hand out, take back or retire; to whom and why."""

    to_person = forms.ModelChoiceField(
        Person.objects.active().order_by("name"), label=_("To"), required=False
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=200)


class MeasurePartForm(PageForm):
    """A set of readings of one quantity, off one gauge."""

    quantity = forms.ChoiceField(
        label=_("Quantity"),
        choices=[(q.value, q.value.replace("_", " ")) for q in PartQuantity],
    )
    gauge = forms.TypedChoiceField(label=_("Gauge"), coerce=int)
    texts = forms.CharField(
        label=_("Readings"),
        max_length=400,
        help_text=_("One or several, a blank between them; they are averaged."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "decimal"}),
    )

    def __init__(
        self, data: Any = None, *, gauges: list[LoadedGauge], kind: PartKind
    ) -> None:
        super().__init__(data)
        self.gauges = {one.mode.pk: one for one in gauges}
        self.fields["gauge"].choices = [  # type: ignore[attr-defined]
            (one.mode.pk, f"{one.mode} — {one.standing}") for one in gauges
        ]
        self.fields["quantity"].choices = [  # type: ignore[attr-defined]
            (one.value, one.value.replace("_", " ")) for one in QUANTITIES_OF[kind]
        ]

    @property
    def chosen_gauge(self) -> LoadedGauge:
        return self.gauges[self.cleaned_data["gauge"]]

    @property
    def chosen_quantity(self) -> PartQuantity:
        return PartQuantity(self.cleaned_data["quantity"])


_COMMON = (PartQuantity.BORE, PartQuantity.MASS)
QUANTITIES_OF: dict[PartKind, tuple[PartQuantity, ...]] = {
    PartKind.TYRE: (
        PartQuantity.TYRE_DIAMETER,
        PartQuantity.TYRE_WIDTH,
        PartQuantity.OUT_OF_ROUND,
        PartQuantity.TAPER,
        PartQuantity.TYRE_HARDNESS,
        *_COMMON,
    ),
    PartKind.GEAR: (
        PartQuantity.GEAR_DIAMETER,
        PartQuantity.HUB_WIDTH,
        PartQuantity.FACE_WIDTH,
        PartQuantity.CROWN_DEPTH,
        *_COMMON,
    ),
    PartKind.MOTOR: (
        PartQuantity.MOTOR_SPEED,
        PartQuantity.MOTOR_RESISTANCE,
        PartQuantity.CAN_HEIGHT,
        PartQuantity.CAN_WIDTH,
        PartQuantity.CAN_LENGTH,
        PartQuantity.SHAFT_DIAMETER,
        PartQuantity.SHAFT_LENGTH,
        PartQuantity.MASS,
    ),
}
