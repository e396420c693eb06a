"""Pairs and sets as their pages and labels show them."""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.compute.part_quantities import PART_SCALES
from inventory.compute.stock import PartKind, PartQuantity
from inventory.compute.units import Unit, format_value
from inventory.loaders.parts import MAIN_QUANTITY, facts_text
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
        decimals = 2 if self.part_set.kind == PartKind.TYRE else 0
        return " / ".join(
            format_value(size, decimals=decimals)
            for size in self.sizes
            if size is not None
        )

    @property
    def spread_text(self) -> str:
        """How far apart the parts were when they were put together."""
        unit = PART_SCALES[MAIN_QUANTITY[PartKind(self.part_set.kind)]].unit
        decimals = 3 if unit is Unit.MILLIMETRE else 0
        spread = format_value(self.part_set.spread / 1e6, decimals=decimals, unit=unit)
        return f"Δ {spread}"


def load_sets(sets: Iterable[PartSet]) -> list[LoadedSet]:
    """Load sets with their parts and sizes, in two queries."""
    found = list(sets)
    members = SetMember.objects.filter(part_set__in=found).select_related(
        "part__tyre", "part__gear", "part__motor", "part__holder"
    )
    parts: dict[int, list[Part]] = {}
    for member in members.order_by("part_set", "position"):
        parts.setdefault(member.part_set_id, []).append(member.part)
    quantities: list[PartQuantity] = list(MAIN_QUANTITY.values())
    sizes = {
        (part, quantity): value / 1e6
        for part, quantity, value in PartEstimate.objects.current()
        .filter(
            part__in=[part.pk for some in parts.values() for part in some],
            quantity__in=quantities,
        )
        .values_list("part", "quantity", "value")
    }
    return [
        LoadedSet(
            part_set=one,
            parts=parts.get(one.pk, []),
            sizes=[
                sizes.get((part.pk, MAIN_QUANTITY[PartKind(part.kind)]))
                for part in parts.get(one.pk, [])
            ],
        )
        for one in found
    ]
