"""Remedies: parts handed out on the block to a car that was sent back."""

from collections.abc import Iterable, Mapping
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.fit.fitted import Fitting, fit_part
from inspection.actions.race_nights import lock_entry
from inspection.compute.night import EntryState, PartPosition
from inspection.models import Entry, Sheet
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.stock import GearRole, PartKind, PartState
from inventory.models import Part
from inventory.words.enumerations import word_of

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
        fit_part(entry.car, part, position, act=act, how=Fitting(note=note))
    record_event(
        "remedy.handed_out",
        subject=sheet,
        act=act,
        parts=[part.tag for part in places.values()],
    )
    return list(places.values())


def _refuse_unless_sent_back(sheet: Sheet, entry: Entry) -> None:
    waits = entry.state in {EntryState.SENT_BACK, EntryState.WAITING}
    last = Sheet.objects.counting().filter(entry=entry).order_by("-id").first()
    if not waits or last != sheet or sheet.entry.night.closed_at is not None:
        raise RefusedError(
            code="not_sent_back",
            sentence=_(
                "Sheet %(sheet)s is not the last of a car that waits to be mended: car "
                "%(entry)s is “%(state)s”."
            )
            % {
                "sheet": sheet.number,
                "entry": entry.number,
                "state": word_of(entry.state),
            },
        )


def _free_parts(tags: list[str], entry: Entry) -> list[Part]:
    # Locked: nobody reserves one of them between this look and the move.
    part_by_tag = {
        part.tag: part
        for part in Part.objects.select_for_update(of=("self",))
        .select_related("gear", "holder")
        .filter(tag__in=tags)
    }
    missing = [tag for tag in tags if tag not in part_by_tag]
    if missing or not tags:
        raise RefusedError(
            code="no_such_part",
            sentence=_("There is no part %(list)s.") % {"list": ", ".join(missing)}
            if missing
            else _("No part was chosen."),
            field="parts",
        )
    theirs = {entry.driver_id, entry.car.owner_id}
    for part in part_by_tag.values():
        if part.state == PartState.RESERVED and part.holder_id not in theirs:
            raise RefusedError(
                code="reserved_for_another",
                sentence=_("Part %(tag)s is reserved for %(holder)s.")
                % {"tag": part.tag, "holder": part.holder},
                field="parts",
            )
    return [part_by_tag[tag] for tag in tags]


def _places(parts: list[Part]) -> Mapping[PartPosition, Part]:
    rear = iter(_REAR)
    places: dict[PartPosition, Part] = {}
    for part in parts:
        match part.kind:
            case PartKind.TYRE:
                position = next(rear, None)
            case PartKind.MOTOR:
                position = PartPosition.MOTOR
            case PartKind.GEAR:
                is_pinion = part.gear.role == GearRole.PINION
                position = PartPosition.PINION if is_pinion else PartPosition.GEAR
            case _:
                raise RefusedError(
                    code="no_remedy",
                    sentence=_(
                        "Part %(tag)s is a %(kind)s; a tyre, a gear or a motor was "
                        "expected."
                    )
                    % {"tag": part.tag, "kind": word_of(part.kind)},
                    field="parts",
                )
        if position is None or position in places:
            raise RefusedError(
                code="too_many_parts",
                sentence=_(
                    "Part %(tag)s: another %(kind)s was chosen for its place already."
                )
                % {"tag": part.tag, "kind": word_of(part.kind)},
                field="parts",
            )
        places[position] = part
    if len(places.keys() & set(_REAR)) == 1:
        raise RefusedError(
            code="one_tyre",
            sentence=_("One tyre was chosen; a pair was expected, left and right."),
            field="parts",
        )
    return places
