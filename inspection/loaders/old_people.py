"""Who has not been heard of for as long as the club keeps people."""

import datetime as dt
from typing import Final

from django.db.models import Exists, OuterRef, Q, QuerySet

from inspection.models import Entry
from inventory.compute.roles import Role
from inventory.models import AuditRow, Club, Part, Person, RoleGrant

_DAYS_A_MONTH: Final = 30.4375
#: A club in which nobody did anything for so long rests, or its clock is wrong.
_IN_USE: Final = dt.timedelta(days=31)
#: Who would be erased by then is shown beforehand.
SOON: Final = dt.timedelta(days=31)


def months_kept() -> int:
    """Give for how many months the club keeps people; 0 for as long as it likes."""
    return Club.objects.values_list("keeps_people_months", flat=True).first() or 0


def is_in_use(now: dt.datetime) -> bool:
    """Tell whether somebody did anything here of late."""
    of_late = AuditRow.objects.filter(at__gte=now - _IN_USE)
    return of_late.exclude(actor=None).exists()


def due_to_be_erased(now: dt.datetime, *, months: int) -> QuerySet[Person]:
    """
    Give those who neither did anything nor raced for so many months.

    No admin, nobody who holds a part of the club, and nobody while it keeps them all.
    """
    people = Person.objects.filter(erased_at__isnull=True)
    if not months:
        return people.none()
    since = now - dt.timedelta(days=months * _DAYS_A_MONTH)
    mine = OuterRef("pk")
    raced = Entry.objects.filter(night__date__gte=since.date())
    heard_of = (
        Q(joined_at__gte=since)
        | Q(last_login__gte=since)
        | Exists(AuditRow.objects.filter(actor=mine, at__gte=since))
        | Exists(raced.filter(driver=mine))
        | Exists(raced.filter(car__owner=mine))
        | Exists(RoleGrant.objects.filter(person=mine, role=Role.ADMIN))
        | Exists(Part.objects.filter(holder=mine))
    )
    return people.exclude(heard_of).order_by("name", "pk")
