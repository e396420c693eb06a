"""Readings on a sheet: put by the number that the device made, struck with a reason."""

import datetime as dt
import uuid
from collections.abc import Mapping
from typing import Any

from inspection.actions.readings import (
    Taken,
    TypedReading,
    strike_reading,
    take_reading,
)
from inspection.api.sheets.gives import ReadingTaken, Struck
from inspection.api.sheets.takes import ReadingSaid, StrikeSaid
from inspection.compute.rulebooks import Answer
from inspection.loaders.block.sheets import load_sheet
from inspection.loaders.block.steps import load_steps, next_step
from inspection.models import SheetReading, Strike
from inventory.api.foundation.operations import Call, makes
from inventory.api.foundation.problems import FieldError, ProblemError
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope


@makes(
    ReadingTaken,
    asks=Ability.INSPECT_CARS,
    scope=Scope.READINGS,
    takes=ReadingSaid,
    example={"column": "tyre_diameter_rear_left", "text": "20.10", "gauge": 1},
)
def put_reading(
    call: Call, number: str, reading_id: uuid.UUID
) -> tuple[int, dict[str, Any]]:
    """
    Put a reading on an open sheet, by a number that was made where it was read.

    The same one put again is there once.  A strange one is asked about: 409 with
    ``question`` and ``suggestion``; put it again with ``confirmed`` if it is right.
    """
    was_there = SheetReading.objects.filter(reading_id=reading_id).exists()
    taken = take_reading(number, typed_reading(call.said, reading_id), act=call.act)
    refuse_strange(taken)
    return 200 if was_there else 201, taken_told(taken)


@makes(
    Struck,
    asks=Ability.INSPECT_CARS,
    scope=Scope.READINGS,
    takes=StrikeSaid,
    example={"reading": 1, "reason": "There was grit on the jaws."},
)
def strike_a_reading(call: Call, number: str) -> Strike:
    """Strike a reading from an open sheet, with a reason; the reading stays."""
    reading, reason = call.said["reading"], call.said["reason"]
    return strike_reading(number, reading, reason=reason, act=call.act)


def typed_reading(body: Mapping[str, Any], reading_id: uuid.UUID) -> TypedReading:
    """Give what was said of a reading as the action takes it."""
    return TypedReading(
        reading_id=reading_id,
        column=body["column"],
        text=body["text"],
        high_text=body["high_text"],
        answer=Answer(body["answer"]) if body["answer"] else None,
        gauge_mode_id=body["gauge"],
        **by_device(body["taken_at"]),
        is_confirmed=body["confirmed"],
    )


def by_device(taken_at: dt.datetime | str | None) -> dict[str, Any]:
    """Give when a device said that it read, as the action takes it."""
    is_no_time = isinstance(taken_at, str)
    return {"clock_said": taken_at} if is_no_time else {"taken_at": taken_at}


def refuse_strange(taken: Taken) -> None:
    """Ask about a reading that is strange; nothing was written."""
    question = taken.question
    if question is not None:
        error = FieldError(field="text", code="strange", detail=question.sentence)
        raise ProblemError(
            409,
            "strange",
            question.sentence,
            errors=[error],
            more={
                "question": question.sentence,
                "suggestion": question.suggestion,
            },
        )


def taken_told(taken: Taken) -> dict[str, Any]:
    """Tell of a reading that is on its sheet, and of what is asked next."""
    following = next_step(load_steps(load_sheet(taken.sheet, taken.readings), []))
    return {
        "reading": taken.reading,
        "warning": taken.warning,
        "next": following.column if following else "",
    }
