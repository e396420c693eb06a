"""A car, typed by its number, its name or its tag."""

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inspection.loaders.cars.addresses import cars_called
from inspection.loaders.cars.search import MOST_OFFERED, cars_in_turn
from inspection.models import Car
from inventory.forms.base import PageForm
from inventory.forms.pick import PickField


class CarField(PickField[Car]):
    """A car; tonight's and those of the last year are offered."""

    default_error_messages: ClassVar = {
        "unknown": _(
            "No car is called “%(typed)s”: the number, name or tag of one is expected."
        ),
        "several": _("“%(typed)s” is on several cars: %(which)s. Type which."),
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.look_among(Car.objects.all())

    def look_among(self, cars: QuerySet[Car]) -> None:
        """Know these cars, and no others."""
        self.cars = cars
        self.widget.offered = lambda: [self.name(car) for car in self.offered()]

    def offered(self) -> QuerySet[Car]:
        """Give the first few."""
        return cars_in_turn(self.cars, today=timezone.localdate())[:MOST_OFFERED]

    def find(self, text: str) -> list[Car]:
        return cars_called(self.cars, text)

    def name(self, row: Car) -> str:
        return row.called


class OneCarForm(PageForm):
    """A car to be named."""

    car = CarField(label=_("Car"))

    def __init__(
        self, data: Any = None, *, cars: QuerySet[Car], label: str, **kwargs: Any
    ) -> None:
        super().__init__(data, **kwargs)
        field = self.fields["car"]
        field.look_among(cars)  # type: ignore[attr-defined]
        field.label = label
