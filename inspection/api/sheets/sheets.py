"""Sheets: listed, shown, noted on, sealed, doubted."""

import base64
from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from django.http import Http404
from django.utils import timezone

from inspection.access import sheets_seen_by
from inspection.actions.cars import confirm_on_block
from inspection.actions.notes.sheet_notes import note_on_sheet
from inspection.actions.readings import strike_doubtful
from inspection.actions.remedies import hand_out_remedy
from inspection.actions.rulings.questions import rule_on_doubt, rule_on_edition
from inspection.actions.seals import seal_sheet
from inspection.api.sheets.filters import SheetFilter
from inspection.api.sheets.gives import (
    HandedOut,
    NoteShown,
    RemediesShown,
    RulingGiven,
    SealPut,
    SheetLine,
    SheetShown,
    Struck,
)
from inspection.api.sheets.takes import HandOutSaid, NoteSaid, RulingSaid, SealSaid
from inspection.compute.night import Decision, Ruling
from inspection.loaders.block.notes import notes_on
from inspection.loaders.block.sheets import LoadedSheet, load_sheet, sheets_to_load
from inspection.loaders.block.steps import load_steps, next_step
from inspection.loaders.remedies import load_remedies
from inspection.loaders.seals.signed import Unreadable, load_signed
from inspection.models import Seal, Sheet, SheetNote, SheetRuling, Strike
from inventory.api.foundation.cursors import Order
from inventory.api.foundation.operations import Call, Form, lists, makes, reads, writes
from inventory.api.foundation.problems import FieldError, ProblemError
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope
from inventory.loaders.gauges import load_gauges

_INSPECTS: Mapping[str, Any] = {"asks": Ability.INSPECT_CARS, "scope": Scope.READINGS}


@lists(
    SheetLine,
    order=Order(columns={"started_at": "started_at", "id": "pk"}, usual="-started_at"),
    filters=SheetFilter,
)
def list_sheets(call: Call) -> QuerySet[Sheet]:
    """List the sheets that whoever asks may open, the last first."""
    return sheets_seen_by(call.person, sheets_to_load())


@reads(SheetShown)
def show_sheet(call: Call, number: str) -> dict[str, Any]:
    """Tell of a sheet: what is asked, what was read, what each rule says."""
    return told(readable(call, number))


@reads(RemediesShown)
def show_remedies(call: Call, number: str) -> dict[str, Any]:
    """Tell what of the drawers would make the car of a sheet legal."""
    loaded = readable(call, number)
    remedies = load_remedies(loaded) if loaded.refused else None
    return {
        "refused": [one.rule.number for one in loaded.refused],
        "count": remedies.count if remedies else 0,
        "parts": remedies.lines if remedies else (),
        "work": remedies.work if remedies else (),
        "wishes": remedies.wishes if remedies else (),
    }


@writes(
    HandedOut,
    asks=Ability.INSPECT_CARS,
    scope=Scope.PARTS,
    takes=HandOutSaid,
    example={"tags": ["T2A9", "T3B8"]},
)
def hand_remedy_out(call: Call, number: str) -> dict[str, Any]:
    """Hand parts out on the block and put them on the car that was sent back."""
    parts = hand_out_remedy(number, call.said["tags"], act=call.act)
    return {"tags": [part.tag for part in parts]}


@makes(NoteShown, takes=NoteSaid, example={"text": "A screw is loose."}, **_INSPECTS)
def note_something(call: Call, number: str) -> SheetNote:
    """Note something on an open sheet, with a picture where one helps."""
    picture = _bytes(call.said["picture"])
    return note_on_sheet(number, call.said["text"], picture=picture, act=call.act)


@writes(SheetShown, **_INSPECTS)
def confirm_the_car(call: Call, number: str) -> dict[str, Any]:
    """Say of the car on the block that it is what it is registered as."""
    confirm_on_block(number, act=call.act)
    return told(readable(call, number))


@makes(
    SealPut,
    asks=Ability.SEAL_SHEETS,
    scope=Scope.ALL,
    takes=SealSaid,
    example={"decision": "sent back", "reason": "The rear wheels rub on the body."},
)
def seal_a_sheet(call: Call, number: str) -> Seal:
    """Sign a sheet: the car passed, or is sent back."""
    decision = Decision(call.said["decision"])
    reason = call.said["reason"]
    return seal_sheet(number, decision=decision, reason=reason, act=call.act)


@writes(Struck, form=Form.ALL, **_INSPECTS)
def strike_what_is_doubtful(call: Call, number: str, check_id: int) -> list[Strike]:
    """Strike all that a gauge read on an open sheet before it failed a check."""
    return strike_doubtful(number, check_id, act=call.act)


@makes(
    RulingGiven,
    asks=Ability.RULE_ON_SHEETS,
    scope=Scope.ALL,
    takes=RulingSaid,
    example={"ruling": "stands", "reason": "The margin is ten times the error."},
)
def rule_on_a_doubt(call: Call, number: str, check_id: int) -> SheetRuling:
    """Rule of a sealed sheet on which a gauge read that failed its next check."""
    ruling, reason = Ruling(call.said["ruling"]), call.said["reason"]
    return rule_on_doubt(number, check_id, ruling=ruling, reason=reason, act=call.act)


@makes(
    RulingGiven,
    asks=Ability.RULE_ON_SHEETS,
    scope=Scope.ALL,
    takes=RulingSaid,
    example={"ruling": "stands", "reason": "It was sealed under the old limit."},
)
def rule_on_an_edition(call: Call, judged_id: int) -> SheetRuling:
    """Rule of a sealed sheet that a new edition would decide otherwise."""
    ruling, reason = Ruling(call.said["ruling"]), call.said["reason"]
    return rule_on_edition(judged_id, ruling=ruling, reason=reason, act=call.act)


def readable(call: Call, number: str) -> LoadedSheet:
    """Load a sheet that whoever asks may open; refuse one that cannot be read."""
    seen = sheets_seen_by(call.person, sheets_to_load())
    sheet = seen.filter(number=number).first()
    if sheet is None:
        msg = f"There is no sheet {number} for you to see."
        raise Http404(msg)
    if sheet.is_sealed and isinstance(load_signed(sheet.seal), Unreadable):
        raise ProblemError(
            409, "sheet_unreadable", f"What was signed of sheet {number} was changed."
        )
    return load_sheet(sheet)


def told(loaded: LoadedSheet) -> dict[str, Any]:
    """Give all that is told of a sheet."""
    steps = load_steps(loaded, load_gauges(timezone.now()))
    return {
        "loaded": loaded,
        "steps": steps,
        "next": next_step(steps),
        "notes": notes_on(loaded.sheet),
    }


def _bytes(text: str) -> bytes | None:
    if not text:
        return None
    try:
        return base64.b64decode(text, validate=True)
    except ValueError as error:  # of base64, or of letters that are none of it
        wrong = FieldError(
            field="picture", code="no_base64", detail="The picture is not in base64."
        )
        raise ProblemError.of_errors(422, [wrong]) from error
