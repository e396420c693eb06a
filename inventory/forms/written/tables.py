"""Parts, pairs and what else is listed as tables to be written to a file."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any

from django.db.models import QuerySet

from inventory.compute.numbers import Unit, from_millionths
from inventory.compute.stock import KINDS, PartKind, PartQuantity, Section
from inventory.files.columns import words_of
from inventory.files.exports import ExportTable
from inventory.files.roles import DRAWER, NAME, TAG, ColumnRole, role_said, roles_of
from inventory.loaders.exported import HeldPart, held_parts, most_readings
from inventory.loaders.pairs import LoadedSet
from inventory.models import Part

#: Behind what comes in again: what is so today.
_TODAY = ("state", "held by", "owned by")


def parts_table(parts: Sequence[HeldPart], kind: PartKind) -> ExportTable:
    """
    Write parts of one kind with their readings, so that they come in as they are.

    Each heading is one by which its column is known when the file comes in again.
    """
    most: Counter[tuple[PartQuantity, Section]] = Counter()
    for one in parts:
        for key, values in one.readings.items():
            most[key] = max(most[key], len(values))
    return _table(parts, kind, most)


def streamed_parts(parts: QuerySet[Part], kind: PartKind) -> ExportTable:
    """Write the same, each part read when it is written; for one way through it."""
    return _table(held_parts(parts, kind), kind, most_readings(parts, kind))


def _table(
    parts: Iterable[HeldPart],
    kind: PartKind,
    most: Mapping[tuple[PartQuantity, Section], int],
) -> ExportTable:
    """Write parts with as many columns of each size as one was read most often."""
    facts = [role for role in roles_of(kind) if role.fact in KINDS[kind].fact_list]
    columns = [
        (role, place)
        for role in roles_of(kind)
        if role.size is not None
        for place in range(most.get((role.size.quantity, role.section), 0))
    ]
    headings = [heading_of(role, kind) for role in (TAG, NAME, *facts)]
    headings += [f"{size_heading(role, kind)} {n + 1}" for role, n in columns]
    rows: Iterator[list[Any]] = (
        [
            one.tag,
            one.name,
            *(one.facts.get(role.fact.name, "") for role in facts if role.fact),
            *(_reading(one, role, place) for role, place in columns),
            one.drawer,
            one.state,
            one.holder,
            one.owner,
        ]
        for one in parts
    )
    return ExportTable(
        name=KINDS[kind].plural,
        headings=[*headings, heading_of(DRAWER, kind), *_TODAY],
        # What is held already may be written twice, what is read as it goes once.
        rows=list(rows) if isinstance(parts, Sequence) else rows,
    )


def sets_table(sets: Sequence[LoadedSet]) -> ExportTable:
    """Write pairs and sets, a part a row."""
    rows: list[list[Any]] = [
        [
            one.part_set.tag,
            place,
            part.tag,
            part.name,
            size,
            from_millionths(one.part_set.spread),
            one.part_set.drawer,
            part.state,
            str(part.holder or ""),
        ]
        for one in sets
        for place, (part, size) in enumerate(one.rows, 1)
    ]
    return ExportTable(
        name="pairs",
        headings=(
            "pair",
            "place",
            "tag",
            "name",
            "size",
            "difference when paired",
            "drawer",
            "state",
            "held by",
        ),
        rows=rows,
    )


@lru_cache
def heading_of(role: ColumnRole, kind: PartKind) -> str:
    """Give the heading by which a role is known again."""
    tried = (role.name, *sorted(role.headings, key=lambda name: (-len(name), name)))
    return next(name for name in tried if role_said(words_of(name), kind) is role)


@lru_cache
def size_heading(role: ColumnRole, kind: PartKind) -> str:
    """Give the heading of a size, with its unit where that leaves it known."""
    heading = heading_of(role, kind)
    unit = Unit.MILLIMETRE if role.size is None else role.size.unit
    with_unit = f"{heading} {unit.symbol}"
    return with_unit if role_said(words_of(with_unit), kind) is role else heading


def _reading(one: HeldPart, role: ColumnRole, place: int) -> float | None:
    if role.size is None:
        return None
    values = one.readings.get((role.size.quantity, role.section), ())
    return from_millionths(values[place]) if place < len(values) else None
