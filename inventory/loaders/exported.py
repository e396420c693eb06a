"""Parts as they go out: what is said of each, and the readings that count."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from django.db.models import Count, QuerySet

from inventory.compute.stock import KINDS, PartKind, PartQuantity, Section
from inventory.loaders.parts import FACT_TABLES
from inventory.models import Part, PartReading

#: As many names as one statement may ask for, on either database.
_AT_ONCE: Final = 500

Readings = dict[tuple[PartQuantity, Section], list[int]]


@dataclass(frozen=True, kw_only=True)
class HeldPart:
    """A part with its facts by name and its current readings, as millionths."""

    tag: str
    name: str
    drawer: str
    state: str
    holder: str
    owner: str
    facts: dict[str, str]
    readings: Readings


def load_held(parts: QuerySet[Part], kind: PartKind) -> list[HeldPart]:
    """Load the parts of one kind, a page of keys at a time, two queries a page."""
    return list(held_parts(parts, kind))


def held_parts(parts: QuerySet[Part], kind: PartKind) -> Iterator[HeldPart]:
    """Give the same one by one: of a long list a page is held at a time."""
    of_kind = parts.filter(kind=kind).select_related(*FACT_TABLES, "holder", "owner")
    for page in _pages(of_kind):
        yield from _held(page, kind)


def most_readings(
    parts: QuerySet[Part], kind: PartKind
) -> dict[tuple[PartQuantity, Section], int]:
    """Say how often each size was read of the part where it was read most often."""
    keys = parts.filter(kind=kind).order_by().values("pk")
    counts = (
        PartReading.objects.filter(
            estimate__part__in=keys, estimate__superseded_at=None
        )
        .order_by()
        .values("estimate__part", "estimate__quantity", "section")
        .annotate(count=Count("pk"))
    )
    most: dict[tuple[PartQuantity, Section], int] = {}
    for row in counts.iterator(chunk_size=_AT_ONCE):
        key = PartQuantity(row["estimate__quantity"]), Section(row["section"])
        most[key] = max(most.get(key, 0), row["count"])
    return most


def _pages(parts: QuerySet[Part]) -> Iterator[list[Part]]:
    last = ""
    while page := list(parts.filter(tag__gt=last).order_by("tag")[:_AT_ONCE]):
        yield page
        last = page[-1].tag


def _held(page: list[Part], kind: PartKind) -> Iterator[HeldPart]:
    readings = current_readings([part.pk for part in page])
    for part in page:
        facts = getattr(part, kind.value)
        values = {
            fact.name: getattr(facts, fact.name) for fact in KINDS[kind].fact_list
        }
        yield HeldPart(
            tag=part.tag,
            name=part.name,
            drawer=part.drawer,
            state=part.state,
            holder=str(part.holder or ""),
            owner=str(part.owner or ""),
            facts={name: str(value) for name, value in values.items() if value},
            readings=readings.get(part.pk, {}),
        )


def current_readings(part_ids: list[int]) -> dict[int, Readings]:
    """Give the readings that parts' current estimates rest on, as they were taken."""
    readings: dict[int, Readings] = {}
    for start in range(0, len(part_ids), _AT_ONCE):
        rows = PartReading.objects.filter(
            estimate__part__in=part_ids[start : start + _AT_ONCE],
            estimate__superseded_at=None,
        ).order_by("pk")
        for part, quantity, section, value in rows.values_list(
            "estimate__part", "estimate__quantity", "section", "value"
        ):
            key = PartQuantity(quantity), Section(section)
            readings.setdefault(part, {}).setdefault(key, []).append(value)
    return readings
