"""Forms of the cars pages."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.actions.cars import CarFacts
from inspection.compute.quantities import FrontCarrier, Layout
from inspection.models import Car, RaceClass
from inventory.forms.base import PageForm
from inventory.forms.people.people import PersonField
from inventory.forms.seen import SeenForm
from inventory.models import Person
from inventory.words.enumerations import word_choices


def car_number(text: str) -> str:
    """Read the number of a car as it was typed."""
    number = text.strip()
    if not number.isalnum():
        msg = _("“%(number)s” is no number of a car; letters and digits make one.")
        raise forms.ValidationError(msg, params={"number": number})
    return number


class NewCarForm(SeenForm):
    """A member's car."""

    number = forms.CharField(label=_("Number it usually races with"), max_length=8)
    name = forms.CharField(label=_("Name"), max_length=60)
    race_class = forms.ModelChoiceField(RaceClass.objects.all(), label=_("Class"))
    layout = forms.ChoiceField(label=_("Motor"), choices=word_choices(Layout))
    front_carrier = forms.ChoiceField(
        label=_("What carries the front"), choices=word_choices(FrontCarrier)
    )

    def __init__(self, data: Any = None, *, car: Car | None = None) -> None:
        names = ("number", "name", "race_class", "layout", "front_carrier")
        now = {name: getattr(car, name) for name in names} if car else {}
        super().__init__(data, initial=now)
        self.of = car

    def clean_number(self) -> str:
        return car_number(self.cleaned_data["number"])

    def facts(self, owner: Person) -> CarFacts:
        cleaned = self.cleaned_data
        return CarFacts(
            number=cleaned["number"],
            name=cleaned["name"],
            owner=owner,
            race_class=cleaned["race_class"],
            layout=Layout(cleaned["layout"]),
            front_carrier=FrontCarrier(cleaned["front_carrier"]),
        )


class HandsForm(PageForm):
    """Somebody who gets a car, for a while or for good."""

    person = PersonField(label=_("Who"), help_text=_("By name."))

    def __init__(self, data: Any = None, *, label: str = "", **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        if label:
            self.fields["person"].label = label
