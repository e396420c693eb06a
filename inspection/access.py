"""Which cars and sheets a person may see; who may do what is in inventory."""

from django.db.models import Q, QuerySet

from inspection.loaders.cars.search import cars_of
from inspection.models import Car, ProtestHearer, Sheet
from inventory.compute.club_ways import MembersSee
from inventory.compute.roles import Ability
from inventory.models import Club, Person


def cars_seen_by(person: Person) -> QuerySet[Car]:
    """Give the cars a person may open: all, or those they own, borrow or drive."""
    cars = Car.objects.select_related("owner", "race_class")
    if person.may(Ability.SEE_EVERY_CAR) or person.may(Ability.FIT_PARTS):
        return cars
    return cars_of(person)


def may_keep(person: Person, car: Car) -> bool:
    """Whether a person says what a car is and whose: its owner, or an official."""
    return car.owner_id == person.pk or person.may(Ability.INSPECT_CARS)


def sheets_seen_by(person: Person, sheets: QuerySet[Sheet]) -> QuerySet[Sheet]:
    """
    Keep the sheets a person may open: all, or those of their cars.

    Somebody named to hear a protest opens what it is against, and what was measured
    for it, or could not rule on it.
    """
    if person.may(Ability.SEE_EVERY_CAR):
        return sheets
    hears = ProtestHearer.objects.filter(person=person)
    own = Q(entry__car__owner=person) | Q(entry__driver=person)
    own |= Q(pk__in=hears.exclude(protest__sheet=None).values("protest__sheet"))
    own |= Q(protest_sheet__protest__in=hears.values("protest"))
    if do_members_see_all():
        return sheets.filter(own | Q(seal__isnull=False))
    return sheets.filter(own)


def may_open_every_sealed_sheet(person: Person) -> bool:
    """Whether a list of sealed sheets leads this person to each of them."""
    return person.may(Ability.SEE_EVERY_CAR) or do_members_see_all()


def do_members_see_all() -> bool:
    return Club.objects.filter(members_see=MembersSee.ALL).exists()
