"""Remedies: parts handed out on the block to a car that was sent back."""

from collections.abc import Iterable, Mapping
from typing import Final

from django.db import transaction

from inspection.actions.cars import fit_part
from inspection.actions.race_nights import lock_entry
from inspection.compute.entries import EntryState, PartPosition
from inspection.models import Entry, Sheet
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.stock import GearRole, PartKind, PartState
from inventory.models import Part

_REAR: Final = (PartPosition.REAR_LEFT, PartPosition.REAR_RIGHT)


@transaction.atomic
def hand_out_remedy(number: str, tags: Iterable[str], *, act: Act) -> list[Part]:
    """
    Hand parts out on the block and put them on the car that was sent back.

    ``tags`` are a gear, a motor, or two tyres, left and right, or several of these.
    Writes what ``fit_part`` writes, marked in the moves' notes; audits
    ``remedy.handed_out``.  Raises RefusedError when the sheet is not the last of a
    car that was sent back tonight, or a part is not to be had; then nothing is
    written.
    """
    sheet = Sheet.objects.select_related("entry__car", "entry__night").get(
        number=number
    )
    entry = lock_entry(sheet.entry_id)
    _refuse_unless_sent_back(sheet, entry)
    places = _places(_free_parts(list(dict.fromkeys(tags)), entry))
    note = f"handed out on the block, sheet {sheet.number}"
    for position, part in places.items():
        fit_part(entry.car, part, position, act=act, note=note)
    record_event(
        "remedy.handed_out",
        subject=sheet,
        act=act,
        parts=[part.tag for part in places.values()],
    )
    return list(places.values())


def _refuse_unless_sent_back(sheet: Sheet, entry: Entry) -> None:
    waits = entry.state in {EntryState.SENT_BACK, EntryState.WAITING}
    last = entry.sheets.order_by("-id").first()
    if not waits or last != sheet or sheet.entry.night.closed_at is not None:
        raise RefusedError(
            code="not_sent_back",
            sentence=f"Sheet {sheet.number} is not the last of a car that waits to be "
            f"mended: car {entry.car.number} is “{entry.state}”.",
        )


def _free_parts(tags: list[str], entry: Entry) -> list[Part]:
    # Locked: nobody reserves one of them between this look and the move.
    found = {
        part.tag: part
        for part in Part.objects.select_for_update(of=("self",))
        .select_related("gear", "holder")
        .filter(tag__in=tags)
    }
    missing = [tag for tag in tags if tag not in found]
    if missing or not tags:
        raise RefusedError(
            code="no_such_part",
            sentence=f"There is no part {', '.join(missing)}."
            if missing
            else "No part was chosen.",
            field="parts",
        )
    theirs = {entry.driver_id, entry.car.owner_id}
    for part in found.values():
        if part.state == PartState.RESERVED and part.holder_id not in theirs:
            raise RefusedError(
                code="reserved_for_another",
                sentence=f"Part {part.tag} is reserved for {part.holder}.",
                field="parts",
            )
    return [found[tag] for tag in tags]


def _places(parts: list[Part]) -> Mapping[PartPosition, Part]:
    rear = iter(_REAR)
    places: dict[PartPosition, Part] = {}
    for part in parts:
        match PartKind(part.kind):
            case PartKind.TYRE:
                position = next(rear, None)
            case PartKind.MOTOR:
                position = PartPosition.MOTOR
            case PartKind.GEAR:
                is_pinion = part.gear.role == GearRole.PINION
                position = PartPosition.PINION if is_pinion else PartPosition.GEAR
        if position is None or position in places:
            raise RefusedError(
                code="too_many_parts",
                sentence=f"Part {part.tag}: another {part.kind} was chosen for its "
                "place already.",
                field="parts",
            )
        places[position] = part
    if len(places.keys() & set(_REAR)) == 1:
        raise RefusedError(
            code="one_tyre",
            sentence="One tyre was chosen; a pair was expected, left and right.",
            field="parts",
        )
    return places
