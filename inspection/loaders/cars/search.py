"""Cars as they are looked for: tonight's first, then those of the last year."""

import datetime as dt
from typing import Final

from django.db.models import Case, Exists, OuterRef, Q, QuerySet, Value, When

from inspection.models import Car, Entry, RaceNight
from inspection.models.car_numbers import by_number
from inventory.models import Person

#: So many are offered where a car, or a driver, is to be named.
MOST_OFFERED: Final = 30
_A_YEAR: Final = dt.timedelta(days=366)


def cars_in_turn(cars: QuerySet[Car], *, today: dt.date) -> QuerySet[Car]:
    """
    Put tonight's cars first, then those of the last year, each by its number.

    Retired ones are the last.
    """
    return cars.annotate(
        turn=Case(
            When(retired_at__isnull=False, then=Value(3)),
            When(pk__in=entries_tonight().values("car"), then=Value(0)),
            When(pk__in=_entries_of_a_year(today).values("car"), then=Value(1)),
            default=Value(2),
        )
    ).order_by("turn", *by_number(), "tag")


def cars_had_by(person: Person) -> QuerySet[Car]:
    """Give the cars that a person races: their own, not lent, and borrowed ones."""
    has = Q(owner=person, lent_to=None) | Q(lent_to=person)
    return Car.objects.racing().filter(has).order_by(*by_number(), "tag")


def cars_of(person: Person) -> QuerySet[Car]:
    """Give the cars that a person owns, borrows or drives, whatever else they see."""
    driven = Entry.objects.filter(driver=person)
    return Car.objects.select_related("owner", "race_class").filter(
        Q(owner=person) | Q(lent_to=person) | Q(pk__in=driven.values("car"))
    )


def drivers_in_turn(*, today: dt.date) -> QuerySet[Person]:
    """Give a few people by name, tonight's drivers and those of a year first."""
    return Person.objects.active().order_by(
        Case(
            When(pk__in=entries_tonight().values("driver"), then=Value(0)),
            When(pk__in=_entries_of_a_year(today).values("driver"), then=Value(1)),
            default=Value(2),
        ),
        "name",
    )[:MOST_OFFERED]


def find_cars(cars: QuerySet[Car], words: str) -> QuerySet[Car]:
    """Keep the cars that every word is of: number, tag, name, owner or class."""
    for word in words.split():
        numbered = entries_tonight().filter(number__istartswith=word)
        cars = cars.filter(
            Q(number__istartswith=word)
            | Q(pk__in=numbered.values("car"))
            | Q(tag__istartswith=word)
            | Q(name__icontains=word)
            | Q(owner__name__icontains=word)
            | Q(race_class__name__icontains=word)
        )
    return cars


def entries_tonight() -> QuerySet[Entry]:
    """Give the entries of the nights that are under way."""
    return Entry.objects.filter(night__in=RaceNight.objects.under_way().values("pk"))


def _entries_of_a_year(today: dt.date) -> QuerySet[Entry]:
    nights = RaceNight.objects.filter(date__gte=today - _A_YEAR)
    return Entry.objects.filter(night__in=nights.values("pk"))


def by_class_and_number(night: RaceNight) -> QuerySet[Car]:
    """Give all cars of the classes of a night, and whether they are entered."""
    racing = Car.objects.racing().select_related("owner", "race_class")
    entered = Entry.objects.filter(night=night, car=OuterRef("pk"))
    cars = racing.filter(race_class__in=night.classes.values("race_class"))
    cars = cars.annotate(is_entered=Exists(entered))
    return cars.order_by("race_class__name", *by_number(), "tag")
