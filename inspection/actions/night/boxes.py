"""Caliper boxes: made, put on a block, taken off it, ended."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.models import Block, CaliperBox
from inventory.actions.audit import Act, record_event
from inventory.actions.people.tokens import new_secret, secret_hash
from inventory.actions.refusals import RefusedError
from inventory.compute.tokens import BOX_SIGN
from inventory.models import GaugeMode

_USE_NOTED_EVERY: Final = dt.timedelta(minutes=1)


@dataclass(frozen=True, kw_only=True)
class MadeBox:
    """A box with the text of its token, which is shown once and kept nowhere."""

    box: CaliperBox
    text: str


@transaction.atomic
def make_box(name: str, mode: GaugeMode, *, act: Act) -> MadeBox:
    """
    Make a caliper box: a token for a device that reads with one gauge.

    Writes a CaliperBox; audits ``box.made``.  Raises RefusedError when a box has the
    name.
    """
    if CaliperBox.objects.filter(name=name, ended_at=None).exists():
        raise RefusedError(
            code="name_taken",
            sentence=_("A box is already called “%(name)s”.") % {"name": name},
            field="name",
        )
    text = new_secret(BOX_SIGN)
    box = CaliperBox.objects.create(
        name=name,
        gauge_mode=mode,
        code_sha256=secret_hash(text),
        made_by=act.by,
        made_at=act.at,
    )
    record_event("box.made", subject=f"box {box.pk}", act=act, gauge=str(mode))
    return MadeBox(box=box, text=text)


@transaction.atomic
def put_box(box_id: int, block: Block, *, act: Act) -> CaliperBox:
    """
    Put a box on a block: what it reads there is read by whoever put it.

    Writes the CaliperBox; audits ``box.put``.  Raises RefusedError when the box has
    ended, or the block is out of use.
    """
    box = _in_use(box_id)
    if not block.is_in_use:
        raise RefusedError(
            code="block_out_of_use",
            sentence=_("The block “%(block)s” is out of use.") % {"block": block},
            field="block",
        )
    box.block, box.put_by, box.put_at = block, act.by, act.at
    box.save(update_fields=["block", "put_by", "put_at"])
    record_event("box.put", subject=f"box {box.pk}", act=act, block=block.name)
    return box


@transaction.atomic
def take_box_off(box_id: int, *, act: Act) -> CaliperBox:
    """
    Take a box off its block; what it sends is refused until it is put on one.

    Writes the CaliperBox; audits ``box.taken_off``.  Raises RefusedError when it has
    ended.
    """
    box = _in_use(box_id)
    box.block = None
    box.save(update_fields=["block"])
    record_event("box.taken_off", subject=f"box {box.pk}", act=act)
    return box


@transaction.atomic
def end_box(box_id: int, *, act: Act) -> None:
    """
    End a box for good: its token opens nothing any more.

    Writes the CaliperBox; audits ``box.ended``.  Raises RefusedError when it has
    ended already.
    """
    box = _in_use(box_id)
    box.block, box.ended_at = None, act.at
    box.save(update_fields=["block", "ended_at"])
    record_event("box.ended", subject=f"box {box.pk}", act=act)


def note_box_use(box: CaliperBox, *, at: dt.datetime) -> None:
    """
    Note when a box last asked, once a minute at most.

    Writes the CaliperBox; no audit row, its readings are their own record.
    """
    last = box.last_used_at
    if last is None or at - last >= _USE_NOTED_EVERY:
        CaliperBox.objects.filter(pk=box.pk).update(last_used_at=at)


def _in_use(box_id: int) -> CaliperBox:
    box = (
        CaliperBox.objects.select_for_update().filter(pk=box_id, ended_at=None).first()
    )
    if box is None:
        raise RefusedError(code="box_ended", sentence=_("That box has ended."))
    return box
