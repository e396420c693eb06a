"""Forms that set a night up and enter cars."""

import datetime as dt
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inspection.forms.cars.cars import car_number
from inspection.forms.pick import CarField
from inspection.loaders.cars.search import drivers_in_turn
from inspection.models import Car, Edition, RaceClass, RaceNight
from inventory.forms.base import PageForm
from inventory.forms.people.people import PersonField
from inventory.forms.seen import SeenForm
from inventory.models import Person

#: Slot cars were raced in clubs from the middle of the fifties: common practice, no
#: source.  A slip of the century is what this is for.
FIRST_NIGHT = dt.date(1950, 1, 1)
PLANNED_AHEAD = dt.timedelta(days=2 * 365)


class NightForm(SeenForm):
    """A night and the edition that each class races by; empty: not tonight."""

    name = forms.CharField(label=_("Name"), max_length=80)
    date = forms.DateField(
        label=_("Date"), widget=forms.DateInput(attrs={"type": "date"})
    )
    place = forms.CharField(label=_("Place"), max_length=80, required=False)

    list_closes_at = forms.DateTimeField(
        label=_("Members enter their own cars until"),
        required=False,
        widget=forms.DateTimeInput(
            attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"
        ),
        help_text=_("The desk enters late cars. Empty: until the night is closed."),
    )

    def __init__(
        self, data: Any = None, *, today: dt.date, night: RaceNight | None = None
    ) -> None:
        super().__init__(data, initial=_said_before(night, today))
        self.of = night
        self.today = today
        named = {} if night is None else _editions_of(night)
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
                initial=named.get(race_class.pk) if night else editions.first(),
            )

    def clean_date(self) -> dt.date:
        date: dt.date = self.cleaned_data["date"]
        latest = self.today + PLANNED_AHEAD
        if not FIRST_NIGHT <= date <= latest:
            raise forms.ValidationError(
                _(
                    "“%(typed)s” is no date of a race night; expected %(first)s to "
                    "%(last)s."
                ),
                code="date_out_of_range",
                params={"typed": date, "first": FIRST_NIGHT, "last": latest},
            )
        return date

    def facts(self) -> dict[str, Any]:
        """Give what a night is planned by."""
        cleaned = self.cleaned_data
        names = ("name", "date", "place", "list_closes_at")
        return {name: cleaned[name] for name in names} | {"editions": self.editions()}

    def editions(self) -> dict[RaceClass, Edition]:
        return {
            race_class: self.cleaned_data[field]
            for field, race_class in self.classes.items()
            if self.cleaned_data.get(field)
        }


def _said_before(night: RaceNight | None, today: dt.date) -> dict[str, Any]:
    if night is None:
        return {"date": today.isoformat()}
    return {
        "name": night.name,
        "date": night.date.isoformat(),
        "place": night.place,
        "list_closes_at": night.list_closes_at,
    }


def _editions_of(night: RaceNight) -> dict[int, int]:
    return dict(night.classes.values_list("race_class", "edition"))


class BlockForm(PageForm):
    """A flat plate on which cars are measured."""

    name = forms.CharField(
        label=_("Name"),
        max_length=30,
        help_text=_("As people call it: by the window, on the stage."),
    )


class BlockChangeForm(BlockForm, SeenForm):
    """What a block is called from now on, and who measures there."""

    measured_by = PersonField(
        label=_("Who measures there"),
        required=False,
        help_text=_("By name. Empty: whoever is free."),
    )


class InAClassForm(PageForm):
    """A car in a class of the night: the one said, else the car's own."""

    race_class = forms.ModelChoiceField(
        RaceClass.objects.none(),
        label=_("Class"),
        required=False,
        empty_label=_("the car’s own"),
    )

    def __init__(self, data: Any = None, *, night: RaceNight) -> None:
        """Offer the classes of the night; the only one is chosen already."""
        super().__init__(data)
        tonight = RaceClass.objects.filter(pk__in=night.classes.values("race_class"))
        field = self.fields["race_class"]
        field.queryset = tonight  # type: ignore[attr-defined]
        self.night = night
        self.tonight = tonight
        only = tonight[:2]
        if len(only) == 1:
            field.initial = only[0]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("race_class") is None and "race_class" not in self.errors:
            cleaned["race_class"] = self._own_class(cleaned.get("car"))
        return cleaned

    def _own_class(self, car: Car | str | None) -> RaceClass | None:
        if not isinstance(car, Car):
            if car:
                self.add_error("race_class", _("Choose a class."))
            return None
        own = self.tonight.filter(pk=car.race_class_id).first()
        if own is None:
            words = _(
                "Car %(car)s is of %(class)s, which does not race on %(night)s; "
                "choose one of its classes."
            ) % {"car": car, "class": car.race_class, "night": self.night}
            self.add_error("race_class", words)
        return own


class EnterCarForm(InAClassForm):
    """A car that races tonight."""

    car = CarField(label=_("Car"), help_text=_("Its number, name or tag."))
    driver = PersonField(
        label=_("Driver"),
        required=False,
        help_text=_("By name. Empty: whoever has the car."),
        offered=lambda: drivers_in_turn(today=timezone.localdate()),
    )
    number = forms.CharField(
        label=_("Number tonight"),
        max_length=8,
        required=False,
        help_text=_("Empty: the car’s usual number."),
    )
    field_order = ("car", "race_class", "driver", "number")

    def __init__(self, data: Any = None, *, night: RaceNight) -> None:
        super().__init__(data, night=night)
        self.fields["car"].look_among(Car.objects.racing())  # type: ignore[attr-defined]

    def clean_number(self) -> str:
        text: str = self.cleaned_data["number"]
        return car_number(text) if text else ""

    def who_drives(self) -> Person:
        chosen: Person | None = self.cleaned_data["driver"]
        return chosen or self.cleaned_data["car"].usual_driver
