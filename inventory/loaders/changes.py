"""The feed of changes, as far as somebody may know of them."""

from typing import Final

from django.db.models import Q, QuerySet

from inventory.compute.roles import Ability
from inventory.models import ChangeNumber, Person

#: What an event is of, where everybody sees it on a page; the rest names people.
_OF_ALL: Final = (
    "batch",
    "block",
    "class",
    "draw",
    "edition",
    "entries",
    "entry",
    "gauge",
    "night",
    "pair",
    "pairing",
    "part",
    "stocktake",
)
_OF_CARS: Final = ("car", "motor_seal", "protest", "reading", "remedy", "sheet")


def changes_after(number: int, person: Person) -> QuerySet[ChangeNumber]:
    """Give the changes after a number that a person may know of, in their order."""
    words: tuple[str, ...] = _OF_ALL
    if person.may(Ability.SEE_EVERY_CAR):
        words += _OF_CARS
    wanted = Q()
    for word in words:
        wanted |= Q(row__event__startswith=f"{word}.")
    changes = ChangeNumber.objects.filter(wanted, number__gt=number)
    return changes.select_related("row").order_by("number")


def last_number() -> int:
    """Give the number of the last change of all."""
    last = ChangeNumber.objects.order_by("-number").values_list("number", flat=True)
    return last.first() or 0
