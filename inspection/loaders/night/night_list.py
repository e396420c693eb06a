"""The night's list: each entry with its seals, by number."""

from collections import defaultdict
from dataclasses import dataclass

from inspection.loaders.night.measured import by_concerned
from inspection.models import Entry, RaceNight, Seal, Sheet
from inspection.models.car_numbers import by_number


@dataclass(frozen=True, kw_only=True)
class ListRow:
    """One entry with the seals of its sheets, in the order of the chain."""

    entry: Entry
    seals: tuple[Seal, ...]
    is_by_concerned: bool


def load_night_list(night: RaceNight) -> list[ListRow]:
    """Load a night's entries by class and number, each with its seals."""
    seals: dict[int, list[Seal]] = defaultdict(list)
    chain = Seal.objects.filter(night=night).select_related("sheet", "sealed_by")
    for seal in chain.order_by("sequence"):
        seals[seal.sheet.entry_id].append(seal)
    marked = by_concerned(Sheet.objects.filter(entry__night=night))
    concerned = set(marked.values_list("entry", flat=True))
    entries = Entry.objects.filter(night=night).select_related(
        "car", "driver", "race_class"
    )
    return [
        ListRow(
            entry=entry,
            seals=tuple(seals[entry.pk]),
            is_by_concerned=entry.pk in concerned,
        )
        for entry in entries.order_by("race_class__name", *by_number(), "pk")
    ]
