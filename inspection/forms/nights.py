"""Forms that set a night up and enter cars."""

import datetime as dt
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.models import Car, Edition, RaceClass, RaceNight
from inventory.forms.base import PageForm
from inventory.models import Person


class NightForm(PageForm):
    """A night and the edition that each class races by; empty: not tonight."""

    name = forms.CharField(label=_("Name"), max_length=80)
    date = forms.DateField(
        label=_("Date"), widget=forms.DateInput(attrs={"type": "date"})
    )
    place = forms.CharField(label=_("Place"), max_length=80, required=False)

    def __init__(self, data: Any = None, *, today: dt.date) -> None:
        super().__init__(data, initial={"date": today.isoformat()})
        self.classes = {
            f"class_{one.pk}": one
            for one in RaceClass.objects.select_related("rulebook")
        }
        for field, race_class in self.classes.items():
            editions = Edition.objects.published().filter(rulebook=race_class.rulebook)
            self.fields[field] = forms.ModelChoiceField(
                editions.select_related("rulebook"),
                label=str(race_class),
                required=False,
                empty_label=_("does not race"),
                initial=editions.first(),
            )

    def editions(self) -> dict[RaceClass, Edition]:
        return {
            race_class: self.cleaned_data[field]
            for field, race_class in self.classes.items()
            if self.cleaned_data.get(field)
        }


class EnterCarForm(PageForm):
    """A car that races tonight."""

    car = forms.ModelChoiceField(Car.objects.all(), label=_("Car"))
    race_class = forms.ModelChoiceField(RaceClass.objects.none(), label=_("Class"))
    driver = forms.ModelChoiceField(
        Person.objects.active().order_by("name"),
        label=_("Driver"),
        required=False,
        help_text=_("Empty: the owner drives."),
    )

    def __init__(self, data: Any = None, *, night: RaceNight) -> None:
        super().__init__(data)
        tonight = RaceClass.objects.filter(pk__in=night.classes.values("race_class"))
        self.fields["race_class"].queryset = tonight  # type: ignore[attr-defined]

    def who_drives(self) -> Person:
        chosen: Person | None = self.cleaned_data["driver"]
        return chosen or self.cleaned_data["car"].owner
