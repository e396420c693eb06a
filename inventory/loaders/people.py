"""People as they are looked for: by their name, or by what they sign in with."""

import datetime as dt
from typing import Final

from django.db.models import Exists, OuterRef, Q, QuerySet

from inventory.compute.handed_links import LinkKind
from inventory.compute.roles import ROLES_THAT_MAY, Ability
from inventory.models import HandedLink, Part, Person

#: So many names are offered where somebody is to be named.
MOST_OFFERED: Final = 30
#: So many are told apart where a name is several people's.
_MOST_MEANT: Final = 5


def people_called(text: str) -> list[Person]:
    """Give the people that a name, or else a sign-in name, may mean."""
    active = Person.objects.active()
    named = list(active.filter(name__iexact=text)[:_MOST_MEANT])
    return named or list(active.filter(sign_in_name__iexact=text))


def people_of_name(name: str) -> list[Person]:
    """Give those who may sign in, or drive, under the same name."""
    return list(Person.objects.active().filter(name__iexact=name.strip()))


def person_signing_in_as(name: str) -> Person | None:
    """Give the person of a sign-in name, switched off or not."""
    return Person.objects.filter(sign_in_name__iexact=name.strip()).first()


def holders_first() -> QuerySet[Person]:
    """Give a few people by name, those who hold a part of the club's first."""
    holds = Exists(Part.objects.filter(holder=OuterRef("pk")))
    return Person.objects.active().order_by(holds.desc(), "name")[:MOST_OFFERED]


def open_invitations(now: dt.datetime) -> QuerySet[HandedLink]:
    """Give the invitations that nobody has come by yet, the newest first."""
    return HandedLink.objects.filter(
        kind=LinkKind.INVITATION,
        used_at__isnull=True,
        withdrawn_at__isnull=True,
        good_until__gte=now,
    ).prefetch_related("roles")[:MOST_OFFERED]


def people_who_may(ability: Ability) -> QuerySet[Person]:
    """Give the active people with an ability, by name."""
    roles = ROLES_THAT_MAY[ability]
    return (
        Person.objects.active()
        .filter(grants__role__in=roles)
        .distinct()
        .order_by("name", "pk")
    )


def find_people(words: str) -> QuerySet[Person]:
    """Find people by words of their names."""
    wanted = Q()
    for word in words.split():
        wanted &= Q(name__icontains=word) | Q(sign_in_name__istartswith=word)
    return Person.objects.filter(wanted).order_by("name", "pk")
