"""
What a column of a table may be, by the kind of part that its rows are.

The tag, the name, the drawer, a note and a date are of every part; the rest are the
facts and the sizes that the kind declares.
"""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType
from typing import Final

from inventory.compute.stock import KINDS, Fact, PartKind, Section, Size


@dataclass(frozen=True, kw_only=True, eq=False)
class ColumnRole:
    """
    What stands in a column.

    Attributes
    ----------
    name : str
        What a person chooses it by, and as which it is kept.
    headings : frozenset of str
        Words over it; where several words make one, all of them.
    fact : Fact, optional
        What is said of the part there.
    size : Size, optional
        What was measured there.
    section : Section
        Where it was measured.
    is_main : bool
        Whether it holds the size that a part of the kind is known by.
    """

    name: str
    headings: frozenset[str] = frozenset()
    fact: Fact | None = None
    size: Size | None = None
    section: Section = Section.MIDDLE
    is_main: bool = False


#: A tag stands in addresses and on labels; one without a letter is a number.
_TAG_LIKE: Final = re.compile(r"(?=[^\s]*[^\W\d_])[^\s/\\?#%]{1,12}")
NOT_USED: Final = ColumnRole(name="not used")
TAG: Final = ColumnRole(name="tag", headings=frozenset({"tag"}))
NAME: Final = ColumnRole(
    name="name",
    headings=frozenset({"name", "mark", "no", "nr", "number", "id", "tire"})
    | {kind.value for kind in PartKind},
    fact=Fact(label="Name", name="name", longest=80),
)
DRAWER: Final = ColumnRole(
    name="drawer",
    headings=frozenset({"drawer", "box", "bin"}),
    fact=Fact(label="Drawer", name="drawer", longest=40),
)

NOTE: Final = ColumnRole(
    name="note",
    headings=frozenset({"note", "notes", "remark", "remarks", "comment", "comments"}),
    fact=Fact(label="Note", name="note", longest=150),
)
#: The day on which a part was measured; it is kept as 2026-05-12.
DATE: Final = ColumnRole(
    name="date",
    headings=frozenset({"date", "day", "measured on", "read on"}),
    fact=Fact(label="Date", name="read_on"),
)
#: Of parts of every kind, behind what the kind has.
OF_EVERY_PART: Final = frozenset({NOT_USED, TAG, NAME, DRAWER, NOTE, DATE})


@lru_cache
def roles_of(kind: PartKind) -> tuple[ColumnRole, ...]:
    """List what a column of a table of one kind may be, as a person is shown them."""
    sizes, main = _sizes(kind)
    return (NOT_USED, TAG, NAME, *main, *sizes, *_facts(kind), DRAWER, NOTE, DATE)


@lru_cache
def roles_by_name(kind: PartKind) -> Mapping[str, ColumnRole]:
    """Give the roles by the names that they are kept as."""
    return MappingProxyType({role.name: role for role in roles_of(kind)})


@lru_cache
def main_role(kind: PartKind) -> ColumnRole:
    """Give the role of the size that a part of the kind is known by."""
    return next(role for role in roles_of(kind) if role.is_main)


def role_said(words: frozenset[str], kind: PartKind) -> ColumnRole | None:
    """
    Find what the words of a heading say.

    Where several roles are named the longer name counts, then the more telling: a
    size before a fact, the size that the part is known by behind the others, and
    what the part is called last.
    """
    best, longest = None, 0
    for role, names in _named(kind):
        length = max((len(name) for name in names if name <= words), default=0)
        if length > longest:
            best, longest = role, length
    return best


def role_shown(
    cells: Sequence[str], kind: PartKind, taken: Collection[ColumnRole]
) -> ColumnRole | None:
    """
    Find what the cells of a column show where its heading says nothing.

    Words of a closed set, or the look of a fact, tell it; so do whole numbers where
    the kind has a count that every part must say; and unlike short words are tags.
    ``taken`` are the roles that other columns have.
    """
    for role in _facts(kind):
        fact = role.fact
        if fact is None or role in taken or not cells:
            continue
        if (fact.words or fact.looks) and all(map(fact.is_likely, cells)):
            return role
        if fact.is_count and fact.is_required and all(map(fact.is_likely, cells)):
            return role if not is_numbering(cells) else None
    if TAG not in taken and len(cells) > 1 and len(set(cells)) == len(cells):
        return TAG if all(map(_TAG_LIKE.fullmatch, cells)) else None
    return None


def role_of_words(cells: Sequence[str], kind: PartKind) -> ColumnRole | None:
    """
    Find the fact that every part must say, where all cells are words of its closed set.

    Over such a column often stands “type”: what is under it says more.
    """
    for role in _facts(kind):
        fact = role.fact
        if fact is None or not (fact.words and fact.is_required and cells):
            continue
        if all(map(fact.is_likely, cells)):
            return role
    return None


def is_numbering(cells: Sequence[str]) -> bool:
    """Tell whether cells only number the rows: 1, 2, 3."""
    return all(cell.isdecimal() for cell in cells) and all(
        int(after) - int(before) == 1 for before, after in pairwise(cells)
    )


@lru_cache
def _named(kind: PartKind) -> Sequence[tuple[ColumnRole, list[frozenset[str]]]]:
    sizes, (middle, *edges) = _sizes(kind)
    telling = (TAG, *sizes, *_facts(kind), DRAWER, *edges, middle, NOTE, DATE, NAME)
    return [
        (role, [frozenset(name.split()) for name in role.headings]) for role in telling
    ]


@lru_cache
def _sizes(kind: PartKind) -> tuple[list[ColumnRole], list[ColumnRole]]:
    """Give the roles of all sizes but the main one, and those of that one."""
    declared = KINDS[kind]
    rest = [
        ColumnRole(name=size.name, headings=size.headings, size=size)
        for size in declared.sizes[1:]
    ]
    size = declared.main
    middle = ColumnRole(name=size.name, headings=size.headings, size=size, is_main=True)
    edges = [
        ColumnRole(
            name=f"{size.name} at the {section} edge",
            headings=headings,
            size=size,
            section=section,
            is_main=True,
        )
        for section, headings in size.edges.items()
    ]
    return rest, [middle, *edges]


@lru_cache
def _facts(kind: PartKind) -> list[ColumnRole]:
    return [
        ColumnRole(name=fact.name.replace("_", " "), headings=fact.headings, fact=fact)
        for fact in KINDS[kind].fact_list
    ]
