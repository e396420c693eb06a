"""Which cars and sheets a person may see; who may do what is in inventory."""

from typing import Final

from django.db.models import Q, QuerySet

from inspection.models import Car, Sheet
from inventory.access import ANYONE_SIGNED_IN, CHIEF, SCRUTINEERS
from inventory.compute.roles import Role
from inventory.models import Person

__all__ = ["ANYONE_SIGNED_IN", "CHIEF", "SCRUTINEERS", "cars_seen_by", "sheets_seen_by"]

#: Who sees every car and sheet; others see those they own or drive.
SEES_ALL: Final = (Role.SCRUTINEER, Role.CHIEF_SCRUTINEER, Role.ADMIN)


def cars_seen_by(person: Person) -> QuerySet[Car]:
    """Give the cars a person may open: all, or those they own or drive."""
    cars = Car.objects.select_related("owner", "race_class")
    if person.has_role(*SEES_ALL):
        return cars
    return cars.filter(Q(owner=person) | Q(entries__driver=person)).distinct()


def sheets_seen_by(person: Person, sheets: QuerySet[Sheet]) -> QuerySet[Sheet]:
    """Keep the sheets a person may open."""
    if person.has_role(*SEES_ALL):
        return sheets
    return sheets.filter(Q(entry__car__owner=person) | Q(entry__driver=person))
