"""Caliper boxes, where they read now, and the sheet that is there."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

from django.db.models import QuerySet

from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.loaders.block.steps import Step, StepKind, load_steps, next_step
from inspection.models import CaliperBox, Sheet

#: An evening: whoever put it there the night before has gone home.
READS_FOR: Final = dt.timedelta(hours=12)


@dataclass(frozen=True, kw_only=True)
class BoxNow:
    """A box on its block: the sheet there, what is asked, what it can read of it."""

    box: CaliperBox
    sheet: Sheet | None
    next: Step | None
    steps: tuple[Step, ...]


def boxes_to_show() -> QuerySet[CaliperBox]:
    """Give the boxes that have not ended, with all that a row shows of them."""
    return CaliperBox.objects.filter(ended_at=None).select_related(
        "gauge_mode__gauge", "block", "put_by"
    )


def is_on_a_block(box: CaliperBox, now: dt.datetime) -> bool:
    """Tell whether a box reads for somebody who may, at a block in use, tonight."""
    if box.block is None or box.put_by is None or box.put_at is None:
        return False
    is_fresh = now - box.put_at <= READS_FOR
    return is_fresh and box.block.is_in_use and box.put_by.is_active


def sheet_on_block(box: CaliperBox) -> Sheet | None:
    """Give the open sheet of the car that stands on the box's block now."""
    return sheets_to_load().open().filter(block=box.block_id).first()


def load_box(box: CaliperBox) -> BoxNow:
    """Load what stands before a box."""
    sheet = sheet_on_block(box)
    if sheet is None:
        return BoxNow(box=box, sheet=None, next=None, steps=())
    steps = load_steps(load_sheet(sheet), [])
    unit = box.gauge_mode.unit
    reads = {StepKind.NUMBER, StepKind.SLIPS}
    return BoxNow(
        box=box,
        sheet=sheet,
        next=next_step(steps),
        steps=tuple(
            step
            for step in steps
            if step.is_asked
            and not step.is_done
            and step.kind in reads
            and step.quantity.unit == unit
        ),
    )
