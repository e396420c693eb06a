"""What is noted on a sheet, and which motor seals its car bore."""

import datetime as dt
import hashlib
import json
from collections.abc import Iterable
from typing import Any

from django.db.models import QuerySet

from inspection.compute.night import PartPosition
from inspection.loaders.block.motor_seals import unbroken_seals, whole_and_broken
from inspection.loaders.block.values import parts_on
from inspection.models import MotorSeal, NotePicture, Sheet, SheetNote


def notes_on(sheet: Sheet) -> QuerySet[SheetNote]:
    """Give a sheet's notes in their order; not the pictures' own bytes."""
    notes = SheetNote.objects.filter(sheet=sheet).select_related("by", "picture")
    return notes.defer("picture__jpeg")


def motor_seals_on(sheet: Sheet) -> QuerySet[MotorSeal]:
    """Give the whole motor seals on the car as it came, by their numbers."""
    whole = unbroken_seals(sheet.entry.car_id, _motor(sheet))
    return whole.select_related("by").order_by("number")


def _motor(sheet: Sheet) -> int | None:
    return parts_on(sheet).get(PartPosition.MOTOR)


def motor_seal_as_json(seal: MotorSeal, by: Any) -> dict[str, Any]:
    """Say of a motor seal what a sheet says of it."""
    return {"number": seal.number, "by": by, "at": _moment(seal.at)}


def noted(sheet: Sheet) -> dict[str, Any]:
    """Give a page what is noted on a sheet, and the motor seals of its car."""
    broken: MotorSeal | None = None
    if sheet.is_sealed:
        item = json.loads(sheet.seal.content)["item"]
        numbers = [one["number"] for one in item.get("motor_seals", [])]
    else:
        whole, broken = whole_and_broken(sheet.entry.car_id, _motor(sheet))
        numbers = sorted(seal.number for seal in whole)
    return {
        "notes": notes_on(sheet),
        "motor_seals": numbers,
        "broken_motor_seal": broken,
    }


def note_as_json(
    note: SheetNote, picture: dict[str, Any] | None, by: Any
) -> dict[str, Any]:
    """Say one note; its picture by its size and the hash of its bytes."""
    members = {"text": note.text, "by": by, "at": _moment(note.at)}
    return members if picture is None else members | {"picture": picture}


def pictures_as_json(notes: Iterable[SheetNote]) -> dict[int, dict[str, Any]]:
    """Say of the pictures of notes how they are stored now, by note."""
    rows = NotePicture.objects.filter(note__in=notes).order_by("pk")
    return {row.note_id: _picture(row) for row in rows.iterator(20)}


def _picture(row: NotePicture) -> dict[str, Any]:
    digest = hashlib.sha256(bytes(row.jpeg)).hexdigest()
    return {
        # Where the row itself says another one, neither is what was sealed.
        "sha256": digest if digest == row.sha256 else f"{digest}, not {row.sha256}",
        "width": row.width,
        "height": row.height,
    }


def _moment(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).isoformat()
