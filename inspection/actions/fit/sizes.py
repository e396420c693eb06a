"""A car's sizes as they are typed on one page: its own, and its room for parts."""

from collections.abc import Mapping

from django.db import transaction

from inspection.actions.cars import TakenWith, store_geometry
from inspection.actions.rooms import store_room_sizes
from inspection.models import Car
from inventory.actions.audit import Act


@transaction.atomic
def store_sizes(
    car: Car,
    columns: Mapping[str, str],
    room: Mapping[str, str],
    *,
    taken_with: TakenWith | None,
    act: Act,
) -> int:
    """
    Store what was typed of a car, all of it or nothing.

    Writes what ``store_geometry`` and ``store_room_sizes`` write, and raises what
    they raise.  Gives how many sizes were stored.
    """
    count = 0
    if columns:
        count += len(store_geometry(car, columns, taken_with=taken_with, act=act))
    if room:
        count += len(store_room_sizes(car, room, act=act))
    return count
