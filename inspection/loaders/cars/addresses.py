"""Which car is meant: by the tag on it, or by the number it races with, or its name."""

from typing import Final

from django.db.models import Q, QuerySet

from inspection.loaders.cars.search import entries_tonight
from inspection.models import Car
from inventory.compute.errors import ComputeError
from inventory.compute.stock import read_tag

#: So many are told apart where a number is on several.
_MOST_MEANT: Final = 10


def cars_called(cars: QuerySet[Car], text: str) -> list[Car]:
    """
    Give the cars that a tag, a number, a name, or these together may mean.

    A tag is one car's, and what stands before it is of no matter; of a number, the
    usual one or tonight's, and of a name there may be several.
    """
    text = text.strip()
    try:
        tag = read_tag(text.rpartition("·")[2].strip())
    except ComputeError:
        tag = ""
    by_tag = list(cars.filter(tag=tag)) if tag else []
    number, _, name = text.partition(" ")
    tonight = entries_tonight().filter(number=text).values("car")
    return by_tag or list(
        cars.filter(
            Q(number=text)
            | Q(pk__in=tonight)
            | Q(name__iexact=text)
            | Q(number=number, name__iexact=name)
        )[:_MOST_MEANT]
    )


def only_car_called(cars: QuerySet[Car], text: str) -> Car | None:
    """Give the one car that is meant; None where there is none, or several."""
    meant = cars_called(cars, text)
    return meant[0] if len(meant) == 1 else None
