"""Who has what of the club's, and since when."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from django.db.models import OuterRef, QuerySet, Subquery

from inventory.compute.searches import words_of
from inventory.compute.stock import Move, PartState
from inventory.loaders.parts import FACT_TABLES, facts_text
from inventory.models import Part, PartMove, SetMember

#: What is out of the drawers and not gone.
_OUT: Final = (PartState.WITH_MEMBER, PartState.ON_CAR)


@dataclass(frozen=True, kw_only=True)
class LentThing:
    """A part, or a bag with its parts, that somebody has."""

    tag: str
    is_set: bool
    parts: list[Part]
    who: str
    note: str
    since: dt.datetime
    days: int

    @property
    def facts(self) -> str:
        """What it is, in a few words."""
        return facts_text(self.parts[0]) or self.parts[0].kind

    @property
    def states(self) -> str:
        """Where its parts are."""
        return ", ".join(sorted({part.state for part in self.parts}))


def load_lent(now: dt.datetime, words: str = "") -> list[LentThing]:
    """List what is out by who has it, the longest first; a bag is one thing."""
    last = PartMove.objects.filter(part=OuterRef("pk"), move=Move.HAND_OUT)
    last = last.order_by("-id")
    moved = PartMove.objects.filter(part=OuterRef("pk")).order_by("-id")
    parts = (
        Part.objects.of_the_club()
        .filter(state__in=_OUT)
        .select_related("holder", *FACT_TABLES)
        .annotate(
            lent_at=Subquery(last.values("at")[:1]),
            lent_to=Subquery(last.values("to_person__name")[:1]),
            lent_as=Subquery(last.values("note")[:1]),
            moved_at=Subquery(moved.values("at")[:1]),
            moved_as=Subquery(moved.values("note")[:1]),
        )
        .order_by("tag")
    )
    things = [_thing(one, now) for one in _by_bag(parts)]
    lent = [one for one in things if _is_said(one, words)]
    return sorted(lent, key=lambda one: (one.who.casefold(), one.since, one.tag))


def _by_bag(parts: QuerySet[Part]) -> Iterable[tuple[str, bool, list[Part]]]:
    parts_lent = list(parts)
    bags = dict(
        SetMember.objects.filter(
            part__state__in=_OUT, ended_at=None, part_set__ended_at=None
        ).values_list("part", "part_set__tag")
    )
    together: dict[tuple[str, bool], list[Part]] = {}
    for part in parts_lent:
        bag = bags.get(part.pk)
        together.setdefault((bag or part.tag, bag is not None), []).append(part)
    return [(tag, is_set, some) for (tag, is_set), some in together.items()]


def _thing(bag: tuple[str, bool, list[Part]], now: dt.datetime) -> LentThing:
    tag, is_set, parts = bag
    first = vars(parts[0])
    since: dt.datetime = first["lent_at"] or first["moved_at"]
    holder = parts[0].holder
    # Who drew a motor may be a car's number alone: the draw says it in its note.
    is_drawn = parts[0].state == PartState.WITH_MEMBER and holder is None
    drawn_by = (first["lent_as"] or "") if is_drawn else ""
    return LentThing(
        tag=tag,
        is_set=is_set,
        parts=parts,
        who=holder.name if holder else first["lent_to"] or drawn_by,
        note="" if is_drawn else first["moved_as"] or "",
        since=since,
        days=(now - since).days,
    )


def _is_said(one: LentThing, words: str) -> bool:
    line = " ".join([one.who, one.tag, one.facts, *(part.tag for part in one.parts)])
    return all(word.casefold() in line.casefold() for word in words_of(words))
