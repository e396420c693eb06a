"""Forms of what is on a car: a part of the stock, a pair, a part of one's own."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inspection.actions.fit.fitted import CANNOT_DRIVE
from inspection.compute.night import (
    KIND_OF_POSITION,
    ROLES_OF_POSITION,
    PartPosition,
)
from inspection.forms.pick import CarField
from inspection.models import Car
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import NewPart
from inventory.compute.stock import KINDS
from inventory.forms.base import PageForm
from inventory.forms.stock import NOT_KNOWN, NewPartForm
from inventory.loaders.gauges import LoadedGauge
from inventory.models import Part


class SinceField(forms.DateField):
    """A day since when something sits on a car; empty, or today: since now."""

    def __init__(self) -> None:
        super().__init__(
            label=_("On the car since"),
            required=False,
            help_text=_("Empty: from now."),
            widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            error_messages={
                "invalid": _("“%(value)s” was typed; a day, 2026-05-31, was expected.")
            },
        )

    def to_python(self, value: Any) -> dt.date | None:
        try:
            return super().to_python(value)
        except forms.ValidationError as error:
            raise forms.ValidationError(
                self.error_messages["invalid"],
                code="invalid",
                params={"value": value},
            ) from error


def moment_of(day: dt.date | None) -> dt.datetime | None:
    """Give the moment that a day begins; nothing for today."""
    if day is None or day == timezone.localdate():
        return None
    return timezone.make_aware(dt.datetime.combine(day, dt.time()))


class AskingForm(PageForm):
    """A form of a part for a car, which asks once about one that cannot drive it."""

    is_asked = False

    @property
    def is_meant(self) -> bool:
        """Whether somebody who was asked has said that it is meant so."""
        return "meant" in self.data

    @property
    def meant(self) -> str:
        """Give the tag that was asked about; PostgreSQL keeps no NUL."""
        return str(self.data.get("meant", "")).replace("\0", "")

    def refuse(self, refusal: RefusedError) -> None:
        self.is_asked = refusal.code == CANNOT_DRIVE
        super().refuse(refusal)


class PutOnForm(AskingForm):
    """What is put in a place: a tag, or words that find it."""

    part = forms.CharField(
        label=_("Tag, or words to search for"),
        required=False,
        max_length=200,
        help_text=_("Type it, scan it, or choose below."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    since = SinceField()

    @property
    def moment(self) -> dt.datetime | None:
        """Since when it sits there; nothing for now."""
        return moment_of(self.cleaned_data["since"])


class PairOnForm(PageForm):
    """Which pair of tyres is put on an axle."""

    pair = forms.CharField(
        label=_("Tag of the pair, or words to search for"),
        required=False,
        max_length=200,
        help_text=_("Type it, scan it, or choose below; the smaller one goes left."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    since = SinceField()

    @property
    def moment(self) -> dt.datetime | None:
        """Since when it sits there; nothing for now."""
        return moment_of(self.cleaned_data["since"])


class OntoCarForm(AskingForm):
    """Which car a part goes on, and where."""

    car = CarField(label=_("Car"), help_text=_("Its number, name or tag."))
    place = forms.ChoiceField(label=_("Place"))
    since = SinceField()

    def __init__(
        self, data: Any = None, *, cars: QuerySet[Car], places: Sequence[PartPosition]
    ) -> None:
        super().__init__(data)
        self.fields["car"].look_among(cars)  # type: ignore[attr-defined]
        self.fields["place"].choices = [  # type: ignore[attr-defined]
            (one, one) for one in places
        ]

    @property
    def moment(self) -> dt.datetime | None:
        """Since when it sits there; nothing for now."""
        return moment_of(self.cleaned_data["since"])


class OwnPartForm(AskingForm, NewPartForm):
    """A part of the owner's own: what it is, its sizes, since when it is on."""

    def __init__(
        self,
        data: Any = None,
        *,
        position: PartPosition,
        gauges: Sequence[LoadedGauge] = (),
    ) -> None:
        super().__init__(
            data,
            kind=KIND_OF_POSITION[position],
            gauges=gauges,
            initial={"gauge": NOT_KNOWN},
        )
        for name in ("drawer", "tag", "count"):
            del self.fields[name]
        if position in ROLES_OF_POSITION:
            self.fields["role"].choices = [  # type: ignore[attr-defined]
                (one, one) for one in sorted(ROLES_OF_POSITION[position], reverse=True)
            ]
        self.fields["since"] = SinceField()

    @property
    def fact_fields(self) -> list[forms.BoundField]:
        return [self[fact.name] for fact in self.kind.fact_list] + [self["name"]]

    @property
    def moment(self) -> dt.datetime | None:
        """Since when it sits there; nothing for now."""
        return moment_of(self.cleaned_data["since"])

    def new_part(self) -> NewPart:
        return NewPart(facts=self.facts(), name=self.cleaned_data["name"])


class PartSizesForm(NewPartForm):
    """What is said of a part that is on a car; what is left empty stays."""

    def __init__(
        self,
        data: Any = None,
        *,
        part: Part,
        gauges: Sequence[LoadedGauge] = (),
    ) -> None:
        kind = part.kind
        facts = getattr(part, part.kind)
        names = [
            fact.name
            for fact in KINDS[kind].fact_list
            if not fact.is_required and fact.words is None
        ]
        now = {name: getattr(facts, name) for name in names}
        super().__init__(
            data, kind=kind, gauges=gauges, initial={"gauge": NOT_KNOWN, **now}
        )
        kept = {
            *names,
            "gauge",
            "right",
            *(f"size_{one.quantity}" for one in self.kind.sizes),
        }
        for name in [name for name in self.fields if name not in kept]:
            del self.fields[name]
        self.names = names

    @property
    def fact_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.names]

    def said_facts(self) -> dict[str, Any]:
        """Give the facts that were said; an empty one stays as it was."""
        facts = {name: self.cleaned_data.get(name) for name in self.names}
        return {name: value for name, value in facts.items() if value}
