"""Parts as lists and pages show them: their main size beside them, in one query."""

import re
from dataclasses import dataclass
from typing import Final

from django.db.models import BigIntegerField, OuterRef, Q, Subquery
from django.utils.translation import gettext as _

from inventory.compute.numbers import Unit, format_value, from_millionths, to_millionths
from inventory.compute.roles import Ability
from inventory.compute.stock import (
    KINDS,
    PART_SCALES,
    PartQuantity,
    PartState,
)
from inventory.models import Part, PartEstimate, PartReading, Person
from inventory.models.parts import PartQuerySet
from inventory.words.enumerations import word_of

#: The tables of what is said of parts, to be read with them.
FACT_TABLES: Final = tuple(kind.value for kind in KINDS)
#: The sizes by which parts are known.
MAIN_QUANTITIES: Final = tuple(kind.main.quantity for kind in KINDS.values())
_FACTS: Final = [
    (kind, fact, f"{kind.value}__{fact.name}")
    for kind, declared in KINDS.items()
    for fact in declared.fact_list
]


_LONGEST_COUNT: Final = 4
_UNITS: Final = frozenset(
    kind.main.unit.symbol for kind in KINDS.values() if kind.main.unit.symbol
)
#: As sizes are written on lines and labels.
_SIZE: Final = re.compile(r"\d{1,3}[.,]\d{1,2}")


@dataclass(frozen=True, kw_only=True)
class PartSearch:
    """What a search asks; empty asks nothing.  Sizes in millionths of the unit."""

    words: str = ""
    kind: str = ""
    state: str = ""
    drawer: str = ""
    compound: str = ""
    pitch: str = ""
    teeth: int | None = None
    smallest: int | None = None
    largest: int | None = None
    held_by: Person | None = None


def find_parts(search: PartSearch) -> PartQuerySet:
    """Find parts, with what a row shows of them; retired ones only when asked."""
    size = PartEstimate.objects.current().filter(
        part=OuterRef("pk"), quantity__in=MAIN_QUANTITIES
    )
    parts = (
        Part.objects.select_related(*FACT_TABLES, "owner", "holder")
        .annotate(
            size=Subquery(size.values("value")[:1], output_field=BigIntegerField())
        )
        .order_by("tag")
    )
    return parts.filter(_wanted(search))


def _wanted(search: PartSearch) -> Q:
    wanted = Q()
    for word in search.words.split():
        wanted &= _printed(word)
    exact = {
        "kind": search.kind,
        "state": search.state,
        "drawer__iexact": search.drawer,
        "tyre__compound__iexact": search.compound,
        "gear__pitch_name__icontains": search.pitch,
        "gear__teeth": search.teeth,
        "size__gte": search.smallest,
        "size__lte": search.largest,
    }
    wanted &= Q(
        **{key: value for key, value in exact.items() if value not in {"", None}}
    )
    if search.held_by is not None:
        wanted &= Q(holder=search.held_by) | Q(owner=search.held_by)
    return wanted if search.state else wanted & ~Q(state=PartState.RETIRED)


def _printed(word: str) -> Q:
    """Ask for the parts on whose line or label a word stands."""
    condition = (
        Q(tag__istartswith=word)
        | Q(name__icontains=word)
        | Q(drawer__icontains=word)
        | Q(kind__istartswith=word)
        | Q(holder__name__icontains=word)
    )
    for kind, fact, column in _FACTS:
        if word.casefold() in fact.say.casefold().split():
            # “teeth” stands on every gear, whatever its count.
            condition |= Q(kind=kind) & ~Q(**{column: None})
        if not fact.is_count:
            condition |= Q(**{f"{column}__icontains": word})
        elif word.isascii() and word.isdigit() and len(word) <= _LONGEST_COUNT:
            condition |= Q(**{column: int(word)})
    return condition | _of_size(word)


def _of_size(word: str) -> Q:
    """Ask for the parts whose size is written as a word is."""
    if word in _UNITS:
        return Q(size__isnull=False)
    if not _SIZE.fullmatch(word):
        return Q()
    millionths = to_millionths(float(word.replace(",", ".")))
    return Q(size__gte=millionths - 5_000, size__lte=millionths + 5_000)


def parts_open_to(person: Person) -> PartQuerySet:
    """
    Give the parts that a person may open, with what is said of them.

    One that is somebody's own and not shared is there for its owner, for whoever has
    it, and for those who put parts on every car.
    """
    parts: PartQuerySet = Part.objects.select_related(*FACT_TABLES, "owner", "holder")
    if person.may(Ability.FIT_PARTS):
        return parts
    return parts.filter(
        Q(owner=None) | Q(owner=person) | Q(is_shared=True) | Q(holder=person)
    )


def counted_readings(part: Part) -> list[PartReading]:
    """Give the readings that a part's current estimates rest on."""
    readings = PartReading.objects.filter(
        estimate__part=part, estimate__superseded_at=None
    )
    return list(readings.select_related("estimate__by").order_by("pk"))


def size_text(part: Part) -> str:
    """Write a found part's main size, or nothing."""
    size: int | None = vars(part).get("size")
    if size is None:
        return ""
    return quantity_text(KINDS[part.kind].main.quantity, size)


def deciding_text(part: Part) -> str:
    """Write what a found part is chosen by: a gear's teeth and pitch, else its size."""
    facts = getattr(part, part.kind)
    large = [fact for fact in KINDS[part.kind].fact_list if fact.on_label]
    worded = [(fact.on_label, getattr(facts, fact.name)) for fact in large]
    chosen = " · ".join(words.format(value) for words, value in worded if value)
    return chosen or size_text(part)


def quantity_text(quantity: PartQuantity, millionths: int) -> str:
    """Write a stored value of a quantity with its unit."""
    unit = PART_SCALES[quantity].unit
    decimals = 0 if unit in {Unit.RPM, Unit.SHORE_A} else 2
    return format_value(from_millionths(millionths), decimals=decimals, unit=unit)


def facts_text(part: Part, *, under_deciding: bool = False) -> str:
    """Say what kind of part it is, in a few words; less what stands over them."""
    kind = KINDS[part.kind]
    facts = getattr(part, part.kind)
    worded = [
        (fact, getattr(facts, fact.name))
        for fact in kind.fact_list
        if not (under_deciding and fact.on_label)
    ]
    return ", ".join(
        _(fact.say).format(word_of(value) if fact.words else value)
        for fact, value in worded
        if fact.say and value
    )
