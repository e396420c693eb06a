"""
What is found of each kind, in as many queries however much there is.

Parts are looked up by indexes alone, by how their tag, name or drawer begins: a club
may have seventy thousand.  Of what there are hundreds, any word of a name will do.
"""

import datetime as dt
from dataclasses import dataclass
from typing import Final

from django.db.models import Q, QuerySet

from inspection.loaders.cars.search import cars_in_turn, find_cars
from inspection.loaders.search.codes import Asked, tags_meant
from inspection.models import Car, Edition, RaceNight, Rulebook, Sheet
from inventory.compute.stock import PartState
from inventory.loaders.parts import FACT_TABLES
from inventory.loaders.people import find_people
from inventory.models import AuditRow, Batch, Club, Gauge, Part, PartSet, Person
from inventory.models import folded_forms as folded

#: So many are shown of a kind; one more is read to tell that there are more.
MOST_SHOWN: Final = 8
_READ: Final = MOST_SHOWN + 1


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What a reader may see of that which is not everybody's."""

    parts: QuerySet[Part]
    cars: QuerySet[Car]
    sheets: QuerySet[Sheet]
    people: QuerySet[Person]


@dataclass(frozen=True, kw_only=True)
class Found:
    """What goes by the words, by its kind."""

    cars: list[Car]
    parts: list[Part]
    sets: list[PartSet]
    sheets: list[Sheet]
    batches: list[Batch]
    nights: list[RaceNight]
    rulebooks: list[tuple[Rulebook, Edition | None]]
    gauges: list[Gauge]
    people: list[Person]

    @property
    def is_anything(self) -> bool:
        return any(vars(self).values())


def load_found(asked: Asked, seen: Seen, *, today: dt.date) -> Found:
    """Look for words among everything that a reader may see."""
    words = asked.words
    cars = cars_in_turn(find_cars(seen.cars, words), today=today)
    sheets = seen.sheets.filter(number__in=tags_meant(words))
    people = find_people(words) & seen.people
    return Found(
        cars=list(cars[:_READ]),
        parts=_parts(words, seen),
        sets=list(PartSet.objects.filter(tag__begins=words.upper())[:_READ]),
        sheets=list(sheets.select_related("entry__car", "entry__night")[:_READ]),
        batches=list(Batch.objects.filter(_named(words))[:_READ]),
        nights=list(RaceNight.objects.filter(_named(words) | _dated(words))[:_READ]),
        rulebooks=_rulebooks(words),
        gauges=list(Gauge.objects.in_use().filter(_named(words))[:_READ]),
        people=list(people[:_READ]),
    )


@dataclass(frozen=True, kw_only=True)
class Tagged:
    """What carries a tag, or a sheet's number, to the letter."""

    parts: list[Part]
    sets: list[PartSet]
    cars: list[Car]
    sheets: list[Sheet]

    @property
    def all(self) -> list[Part | PartSet | Car | Sheet]:
        return [*self.parts, *self.sets, *self.cars, *self.sheets]


def load_tagged(asked: Asked, seen: Seen) -> Tagged:
    """Give what a tag is on, of that which a reader may see."""
    tags = tags_meant(asked.words)
    return Tagged(
        parts=list(seen.parts.filter(tag__in=tags)),
        sets=list(PartSet.objects.filter(tag__in=tags)),
        cars=list(seen.cars.filter(tag__in=tags)),
        sheets=list(seen.sheets.filter(number__in=tags)),
    )


def is_of_this_club(host: str) -> bool:
    """Tell whether the club says, or has said, that it is reached at a host."""
    now = Club.objects.values_list("address", flat=True)
    before = AuditRow.objects.filter(event="club.settled")
    addresses = [*now, *before.values_list("detail__address", flat=True)]
    return any(_host(str(address or "")) == host for address in addresses)


def _host(address: str) -> str:
    return address.partition("://")[2].partition("/")[0].lower()


def _parts(words: str, seen: Seen) -> list[Part]:
    """Find parts by indexes alone; those of a tag that begins so come first."""
    keys = Part.objects.order_by().values_list("pk", flat=True)
    # What is retired is found by its tag, from its own label.
    used = keys.exclude(state=PartState.RETIRED)
    looks = [keys.filter(tag__begins=words.upper())]
    for form in sorted(folded(words)):
        looks.append(used.filter(name__folded__begins=form))
        looks.append(used.filter(drawer__folded=form))
    first, *others = looks
    ranked = list(first.union(*others, all=True)[: 2 * _READ])
    turn = {key: place for place, key in reversed(list(enumerate(ranked)))}
    parts = seen.parts.select_related(*FACT_TABLES, "holder").filter(pk__in=turn)
    return sorted(parts, key=lambda part: (turn[part.pk], part.tag))[:_READ]


def _rulebooks(words: str) -> list[tuple[Rulebook, Edition | None]]:
    """Find rulebooks by their own name or a class's, each with what is in force."""
    named = _named(words) | _named(words, "classes__name")
    rulebooks = list(Rulebook.objects.filter(named).distinct().order_by("name")[:_READ])
    editions = Edition.objects.published().filter(rulebook__in=rulebooks)
    newest = {one.rulebook_id: one for one in editions.order_by("number")}
    return [(one, newest.get(one.pk)) for one in rulebooks]


def _named(words: str, column: str = "name") -> Q:
    """Ask for every word in a name, in any order."""
    return Q(*(Q((f"{column}__icontains", word)) for word in words.split()))


def _dated(words: str) -> Q:
    try:
        return Q(date=dt.date.fromisoformat(words))
    except ValueError:
        return Q(pk__in=[])
