"""Forms that enter cars: many at once, one's own, whoever stands at the desk."""

from typing import Any, Final

from django import forms
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from inspection.actions.night.entries import AtTheDesk
from inspection.compute.quantities import FrontCarrier, Layout
from inspection.forms.cars.cars import car_number
from inspection.forms.night.nights import InAClassForm
from inspection.loaders.cars.search import (
    MOST_OFFERED,
    cars_had_by,
    cars_in_turn,
    drivers_in_turn,
)
from inspection.loaders.night.nights import classes_to_enter, nights_to_copy
from inspection.models import Car, RaceClass, RaceNight
from inventory.compute.errors import ComputeError
from inventory.compute.stock import read_tag
from inventory.forms.base import PageForm
from inventory.forms.pick import PickInput
from inventory.loaders.people import people_called
from inventory.models import Person
from inventory.words.enumerations import word_choices

_LONGEST_NAME: Final = 60


class FillForm(PageForm):
    """Whose cars are entered at once: another night's, or all of a class."""

    source = forms.ChoiceField(label=_("Enter"), widget=forms.RadioSelect)

    def __init__(self, data: Any = None, *, night: RaceNight) -> None:
        super().__init__(data)
        self.nights = {f"night-{one.pk}": one for one in nights_to_copy(night)}
        self.classes = {f"class-{one.pk}": one for one in classes_to_enter(night)}
        self.fields["source"].choices = [  # type: ignore[attr-defined]
            *((key, _from_night(one)) for key, one in self.nights.items()),
            *((key, _all_of(one)) for key, one in self.classes.items()),
        ]

    @property
    def chosen(self) -> RaceNight | RaceClass:
        key = self.cleaned_data["source"]
        return self.nights.get(key) or self.classes[key]


def _from_night(night: RaceNight) -> Any:
    return _("the cars of %(night)s, %(date)s (%(count)d)") % {
        "night": night.name,
        "date": date_format(night.date, "j M Y"),
        "count": vars(night)["cars"],
    }


def _all_of(race_class: RaceClass) -> Any:
    return _("all cars of %(race_class)s (%(count)d)") % {
        "race_class": race_class.name,
        "count": vars(race_class)["car_count"],
    }


class NumberedForm(InAClassForm):
    """The number of tonight, or none."""

    number = forms.CharField(
        label=_("Number tonight"),
        max_length=8,
        required=False,
        help_text=_("Empty: the car’s usual number."),
    )

    def clean_number(self) -> str:
        text: str = self.cleaned_data["number"]
        return car_number(text) if text else ""


class OwnCarForm(NumberedForm):
    """A car of one's own, or lent to one."""

    car = forms.ModelChoiceField(Car.objects.none(), label=_("Car"))
    field_order = ("car", "race_class", "number")

    def __init__(self, data: Any = None, *, night: RaceNight, person: Person) -> None:
        super().__init__(data, night=night)
        self.fields["car"].queryset = cars_had_by(person)  # type: ignore[attr-defined]


class DeskForm(NumberedForm):
    """Whoever stands at the desk, known or not, with a car that is known or not."""

    driver = forms.CharField(
        label=_("Driver"), max_length=80, widget=PickInput({"autofocus": True})
    )
    is_new = forms.BooleanField(
        label=_("Somebody new, though that name is known here"), required=False
    )
    car = forms.CharField(
        label=_("Car"),
        max_length=100,
        widget=PickInput,
        help_text=_("What the driver calls it; a car of the club by its tag."),
    )
    layout = forms.ChoiceField(
        label=_("Motor"), choices=word_choices(Layout), initial=Layout.IN_LINE
    )
    front_carrier = forms.ChoiceField(
        label=_("What carries the front"),
        choices=word_choices(FrontCarrier),
        initial=FrontCarrier.GUIDE,
    )
    field_order = (
        "driver",
        "is_new",
        "car",
        "race_class",
        "number",
        "layout",
        "front_carrier",
    )

    def __init__(self, data: Any = None, *, night: RaceNight) -> None:
        super().__init__(data, night=night)
        today = timezone.localdate()
        drivers = drivers_in_turn(today=today)
        self.fields["driver"].widget.offered = lambda: drivers.values_list(
            "name", flat=True
        )
        cars = cars_in_turn(Car.objects.racing(), today=today)[:MOST_OFFERED]
        self.fields["car"].widget.offered = lambda: [car.called for car in cars]
        classes = self.fields["race_class"]
        classes.empty_label = _("choose")  # type: ignore[attr-defined]
        self.fields["number"].help_text = _(
            "Empty: the car’s usual number, or the next that is free."
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        name = cleaned.get("driver", "")
        meant = [] if cleaned.get("is_new") or not name else people_called(name)
        if len(meant) > 1:
            which = ", ".join(f"{one.name} ({one.sign_in_name})" for one in meant)
            self.add_error(
                "driver",
                forms.ValidationError(
                    _(
                        "“%(typed)s” is several people's name: %(which)s. Type what "
                        "stands in brackets, or tick that it is somebody new."
                    ),
                    params={"typed": name, "which": which},
                ),
            )
        self.meant = meant[0] if meant else name
        return cleaned

    def clean_car(self) -> Car | str:
        """Know a car by its tag alone: a name may be somebody else's car's."""
        text: str = self.cleaned_data["car"]
        try:
            tag = read_tag(text.rpartition("·")[2].strip())
        except ComputeError:
            return _name(text)
        return Car.objects.racing().filter(tag=tag).first() or _name(text)

    def at_the_desk(self) -> AtTheDesk:
        cleaned = self.cleaned_data
        return AtTheDesk(
            driver=self.meant,
            car=cleaned["car"],
            race_class=cleaned["race_class"],
            number=cleaned["number"],
            layout=Layout(cleaned["layout"]),
            front_carrier=FrontCarrier(cleaned["front_carrier"]),
        )


def _name(text: str) -> str:
    if len(text) > _LONGEST_NAME:
        raise forms.ValidationError(
            _("“%(typed)s” is too long for a car's name: %(most)d signs at most."),
            params={"typed": text, "most": _LONGEST_NAME},
        )
    return text
