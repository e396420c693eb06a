"""A caliper box: what is asked of it, and its readings onto the sheet on its block."""

import uuid
from typing import Any

from inspection.actions.readings import TypedReading, take_reading
from inspection.api.box.gives import BoxTold
from inspection.api.box.takes import BoxReadingSaid
from inspection.api.sheets.gives import ReadingTaken
from inspection.api.sheets.readings import by_device, refuse_strange, taken_told
from inspection.loaders.night.boxes import BoxNow, load_box, sheet_on_block
from inspection.models import CaliperBox, SheetReading
from inventory.api.foundation.operations import Call, makes, reads
from inventory.api.foundation.problems import ProblemError
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope


@reads(BoxTold, asks=Ability.INSPECT_CARS)
def ask_for_box(call: Call) -> BoxNow:
    """Tell a box where it reads, for whom, and what is asked of the car there."""
    return load_box(_box(call))


@makes(
    ReadingTaken,
    asks=Ability.INSPECT_CARS,
    scope=Scope.READINGS,
    takes=BoxReadingSaid,
    example={
        "sheet": "20260508-1-001",
        "by": 1,
        "column": "tyre_diameter_rear_left",
        "text": "20.10",
    },
)
def put_box_reading(call: Call, reading_id: uuid.UUID) -> tuple[int, dict[str, Any]]:
    """
    Put a box's reading on the sheet now on its block, as read by whoever put it there.

    It names the sheet and the person that it was read for: a reading that waited in
    the box goes onto no other sheet, and is nobody else's.
    """
    box, body = _box(call), call.said
    there = _there_already(call, reading_id)
    if there is not None:
        return 200, there
    sheet = sheet_on_block(box)
    if sheet is None or sheet.number != body["sheet"]:
        now = f"sheet {sheet.number}" if sheet else "no car"
        raise ProblemError(
            409,
            "another_sheet",
            f"It was read for sheet {body['sheet']}; on “{box.block}” there is {now}.",
        )
    if body["by"] != call.person.pk:
        raise ProblemError(
            409,
            "another_scrutineer",
            f"It was read for somebody else; the box reads for {call.person} now.",
        )
    typed = TypedReading(
        reading_id=reading_id,
        column=body["column"],
        text=body["text"],
        gauge_mode_id=box.gauge_mode_id,
        **by_device(body["taken_at"]),
        is_confirmed=body["confirmed"],
    )
    taken = take_reading(sheet.number, typed, act=call.act)
    refuse_strange(taken)
    return 201, taken_told(taken)


def _box(call: Call) -> CaliperBox:
    box: Any = call.request.auth
    assert isinstance(box, CaliperBox)  # noqa: S101  no other token opens this
    return box


def _there_already(call: Call, reading_id: uuid.UUID) -> dict[str, Any] | None:
    """Tell of a reading whose answer the box did not hear, though it was written."""
    before = (
        SheetReading.objects.select_related("by", "sheet")
        .filter(reading_id=reading_id, by=call.person)
        .first()
    )
    if before is None or before.sheet.number != call.said["sheet"]:
        return None
    return {"reading": before, "warning": "", "next": ""}
