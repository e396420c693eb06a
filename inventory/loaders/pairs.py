"""Pairs and sets as their pages and labels show them."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from inventory.compute.numbers import Unit, format_value, from_millionths
from inventory.compute.searches import words_of
from inventory.compute.stock import KINDS, Size
from inventory.loaders.parts import FACT_TABLES, MAIN_QUANTITIES, facts_text
from inventory.models import Part, PartEstimate, PartSet, SetMember


@dataclass(frozen=True, kw_only=True)
class LoadedSet:
    """A pair or set, its parts in order, and the size of each by the part's key."""

    part_set: PartSet
    parts: list[Part]
    sizes: list[float | None]

    @property
    def rows(self) -> list[tuple[Part, float | None]]:
        """Each part with its size."""
        return list(zip(self.parts, self.sizes, strict=True))

    @property
    def facts(self) -> str:
        """What the parts are, in a few words."""
        return facts_text(self.parts[0]) if self.parts else ""

    @property
    def sizes_text(self) -> str:
        """The sizes beside each other, the smallest first."""
        decimals = 2 if self._main.unit is Unit.MILLIMETRE else 0
        return " / ".join(
            format_value(size, decimals=decimals, unit=self._main.unit, is_bare=True)
            for size in self.sizes
            if size is not None
        )

    @property
    def spread_text(self) -> str:
        """How far apart the parts were when they were put together."""
        unit = self._main.unit
        decimals = 3 if unit is Unit.MILLIMETRE else 0
        spread = format_value(
            from_millionths(self.part_set.spread), decimals=decimals, unit=unit
        )
        return f"Δ {spread}"

    @property
    def spread_now_text(self) -> str:
        """How far apart they are by now, where that is known and another figure."""
        known = [size for size in self.sizes if size is not None]
        if len(known) < len(self.sizes) or not known:
            return ""
        unit = self._main.unit
        decimals = 3 if unit is Unit.MILLIMETRE else 0
        now = format_value(max(known) - min(known), decimals=decimals, unit=unit)
        return "" if f"Δ {now}" == self.spread_text else f"Δ {now}"

    @property
    def _main(self) -> Size:
        return KINDS[self.part_set.kind].main


def find_sets(words: str) -> QuerySet[PartSet]:
    """Find the pairs and sets in stock by tag, drawer or compound, all of the words."""
    sets = PartSet.objects.together()
    for word in words_of(words):
        sets = sets.filter(
            Q(tag__istartswith=word)
            | Q(drawer__icontains=word)
            | Q(members__part__tag__istartswith=word)
            | Q(members__part__tyre__compound__icontains=word)
        )
    return sets.distinct().order_by("tag")


def load_sets(sets: Iterable[PartSet]) -> list[LoadedSet]:
    """Load sets with their parts and sizes, in two queries."""
    rows = list(sets)
    members = SetMember.objects.filter(part_set__in=rows).select_related(
        *(f"part__{table}" for table in FACT_TABLES), "part__holder"
    )
    parts: dict[int, list[Part]] = {}
    for member in members.order_by("part_set", "position"):
        parts.setdefault(member.part_set_id, []).append(member.part)
    sizes = {
        (part, quantity): from_millionths(value)
        for part, quantity, value in PartEstimate.objects.current()
        .filter(
            part__in=[part.pk for some in parts.values() for part in some],
            quantity__in=MAIN_QUANTITIES,
        )
        .values_list("part", "quantity", "value")
    }
    return [
        LoadedSet(
            part_set=one,
            parts=parts.get(one.pk, []),
            sizes=[
                sizes.get((part.pk, KINDS[part.kind].main.quantity))
                for part in parts.get(one.pk, [])
            ],
        )
        for one in rows
    ]
