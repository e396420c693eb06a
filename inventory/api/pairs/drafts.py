"""Files on their way in: by the same road as the pages."""

from typing import Any

from django.shortcuts import get_object_or_404

from inventory.actions.batches import batch_of_draft, take_batch
from inventory.actions.drafts import NewDraft, drop_draft, read_draft, upload_draft
from inventory.api.foundation.operations import Call, ends, makes, reads
from inventory.api.foundation.problems import ProblemError
from inventory.api.pairs.gives import BatchTaken, DraftShown
from inventory.api.pairs.takes import DraftSaid, TakeSaid
from inventory.compute.batches import DraftState
from inventory.compute.roles import Ability
from inventory.compute.stock import PartKind
from inventory.compute.tokens import Scope
from inventory.files import limits
from inventory.loaders.gauges import LoadedGauge, load_gauges
from inventory.loaders.incoming.previews import preview_draft
from inventory.models import Batch, BatchDraft

_FAULTS = 100


@makes(
    DraftShown,
    asks=Ability.KEEP_PARTS,
    scope=Scope.PARTS,
    takes=DraftSaid,
    is_upload=True,
)
def bring_a_file(call: Call) -> dict[str, Any]:
    """Bring a table of parts, to be looked at before it is taken."""
    file, kind = call.said["file"], call.said["kind"]
    new = NewDraft(
        name=call.said["name"] or (file.name or "A file")[:60],
        content=file.read(limits.BYTES + 1),
        kind=PartKind(kind) if kind else None,
        file_name=file.name or "",
    )
    draft = upload_draft(new, act=call.act)
    read_draft(draft.pk, act=call.act)
    return _told(call, draft.pk)


@reads(DraftShown, asks=Ability.KEEP_PARTS)
def show_draft(call: Call, draft_id: int) -> dict[str, Any]:
    """Tell what of a file would come in, and what is wrong with it."""
    return _told(call, draft_id)


@makes(
    BatchTaken,
    asks=Ability.KEEP_PARTS,
    scope=Scope.PARTS,
    takes=TakeSaid,
    example={"leave_out": 0},
)
def take_a_draft(call: Call, draft_id: int) -> Batch:
    """Take the whole of a file into stock, or none of it."""
    draft, gauge = _read_draft(draft_id), None
    gauge = _gauge(call, draft)
    preview = preview_draft(draft, gauge=gauge)
    left_out = preview.wrong_count
    if not preview.can_be_taken or call.said["leave_out"] != left_out:
        raise ProblemError(
            409,
            "rows_are_wrong",
            f"{left_out} rows are wrong: mend the file, or say that as many are left "
            "out."
            if left_out
            else "Nothing can be taken: say first what its columns are, on its page.",
        )
    another = call.said["is_another"]
    new = batch_of_draft(draft, gauge=gauge, left_out=left_out, is_another=another)
    return take_batch(new, preview.taken, act=call.act)


@ends(asks=Ability.KEEP_PARTS, scope=Scope.PARTS)
def drop_a_draft(call: Call, draft_id: int) -> None:
    """Throw a file away."""
    get_object_or_404(BatchDraft.objects.defer("content", "table"), pk=draft_id)
    drop_draft(draft_id, act=call.act)


def _read_draft(draft_id: int) -> BatchDraft:
    drafts = BatchDraft.objects.defer("content")
    return get_object_or_404(drafts, pk=draft_id, state=DraftState.READ)


def _gauge(call: Call, draft: BatchDraft) -> LoadedGauge | None:
    if draft.gauge_mode_id is None:
        return None
    loaded = load_gauges(call.act.at, pk=draft.gauge_mode_id)
    return loaded[0] if loaded else None


def _told(call: Call, draft_id: int) -> dict[str, Any]:
    draft = get_object_or_404(BatchDraft.objects.defer("content"), pk=draft_id)
    if draft.state != DraftState.READ:
        nothing: dict[str, Any] = {"counts": {}, "wrong_rows": 0, "faults": []}
        return {"draft": draft, "may_be_taken": False, **nothing}
    preview = preview_draft(draft, gauge=_gauge(call, draft))
    return {
        "draft": draft,
        "counts": preview.counts,
        "wrong_rows": preview.wrong_count,
        "may_be_taken": preview.can_be_taken,
        "faults": preview.faults[:_FAULTS],
    }
