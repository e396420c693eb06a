"""Room for parts: the sizes of a car that no rule speaks of."""

from collections.abc import Mapping
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.compute.fit import (
    IN_ORDER,
    MOST_ROOM_MM,
    MOUNTING_SIZES,
    OPEN_ENDED,
)
from inspection.models import Car, RoomSize
from inspection.words.rooms import room_name
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.errors import ComputeError
from inventory.compute.numbers import MILLION, Unit, from_millionths, parse_reading

#: What is typed where nothing is in the way.
NOTHING_THERE: Final = "none"


@transaction.atomic
def store_room_sizes(car: Car, texts: Mapping[str, str], *, act: Act) -> list[RoomSize]:
    """
    Store sizes that parts of a car must fit, as typed.

    Writes a RoomSize for each that changed (the one before is superseded) and the
    Car's date; audits ``car.room_measured``.  Raises RefusedError for an unknown
    size, a text that is no length, or two that contradict each other; then nothing
    is stored.
    """
    values = {size: _value(size, text) for size, text in texts.items()}
    # Two people may measure one car at once: the car's row is the queue.
    Car.objects.select_for_update().get(pk=car.pk)
    now = {row.size: row for row in RoomSize.objects.current().filter(car=car)}
    _refuse_contradictions({size: row.value for size, row in now.items()} | values)
    changed = [
        size for size in values if size not in now or now[size].text != texts[size]
    ]
    if not changed:
        return []
    RoomSize.objects.current().filter(car=car, size__in=changed).update(
        superseded_at=act.at
    )
    rows = RoomSize.objects.bulk_create(
        RoomSize(
            car=car,
            size=size,
            value=values[size],
            text=texts[size],
            taken_at=act.at,
            by=act.by,
        )
        for size in changed
    )
    Car.objects.filter(pk=car.pk).update(changed_at=act.at)
    record_event("car.room_measured", subject=car, act=act, sizes=sorted(changed))
    return rows


def _value(size: str, text: str) -> int | None:
    if size not in MOUNTING_SIZES:
        raise RefusedError(
            code="size_unknown",
            sentence=_("“%(size)s” is no size of a car.") % {"size": size},
            field=size,
        )
    if text.strip().casefold() == NOTHING_THERE:
        if size in OPEN_ENDED:
            return None
        raise RefusedError(
            code="not_open_ended",
            sentence=_("%(one)s: “%(text)s” was typed; a length was expected.")
            % {"one": room_name(size), "text": text},
            field=size,
        )
    try:
        value = parse_reading(text, unit=Unit.MILLIMETRE).millionths
    except ComputeError as error:
        raise RefusedError.because(error, field=size) from error
    if not 0 <= value <= MOST_ROOM_MM * MILLION:
        raise RefusedError(
            code="size_implausible",
            sentence=_(
                "%(one)s: “%(text)s” was typed; 0 to %(most_room_mm)s mm was expected."
            )
            % {
                "one": room_name(size),
                "text": text,
                "most_room_mm": f"{MOST_ROOM_MM:g}",
            },
            field=size,
        )
    return value


def _refuse_contradictions(values: Mapping[str, int | None]) -> None:
    for low, high in IN_ORDER:
        least, most = values.get(low), values.get(high)
        if least is not None and most is not None and least > most:
            raise RefusedError(
                code="sizes_crossed",
                sentence=_("%(one)s (%(n)s mm) is greater than %(lower)s (%(n_2)s mm).")
                % {
                    "one": room_name(low),
                    "n": f"{from_millionths(least):g}",
                    "lower": room_name(high).lower(),
                    "n_2": f"{from_millionths(most):g}",
                },
                field=low,
            )
