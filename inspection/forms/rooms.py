"""The form of the room that a car has for parts."""

from collections.abc import Mapping
from typing import Any

from inspection.compute.envelope import MOUNTING_SIZES
from inspection.compute.rooms import ROOM_LABELS
from inspection.forms.fit import room_field
from inventory.forms.base import PageForm


class RoomForm(PageForm):
    """Sizes that no rule speaks of; what is left empty stays as it was."""

    def __init__(self, data: Any = None, *, now: Mapping[str, str]) -> None:
        super().__init__(data, initial=dict(now))
        for size in MOUNTING_SIZES:
            self.fields[size] = room_field(size, ROOM_LABELS[size])

    def texts(self) -> dict[str, str]:
        """Give what was typed, size by size."""
        typed = {size: str(self.data.get(size, "")).strip() for size in MOUNTING_SIZES}
        return {size: text for size, text in typed.items() if text}
