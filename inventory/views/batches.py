"""New batches: a file, a paste or the caliper; and a file looked at before it is in."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_POST
from django_htmx.http import HttpResponseClientRefresh

from inventory.access import KEEPERS, allow
from inventory.actions.batches import start_bench, take_batch
from inventory.actions.drafts import (
    drop_draft,
    read_again,
    read_draft,
    say_columns,
    upload_draft,
)
from inventory.actions.previews import Preview, batch_of_draft, preview_draft
from inventory.actions.refusals import RefusedError
from inventory.compute.batch_words import BatchSource, DraftState
from inventory.compute.stock import PartKind
from inventory.files import limits
from inventory.files.exports import ExportTable, write_csv
from inventory.forms.batches import (
    DIVIDER_NAMES,
    BenchForm,
    DraftForm,
    LayoutForm,
    PasteForm,
    UploadForm,
)
from inventory.loaders.batches import OF_TYRES
from inventory.loaders.gauges import LoadedGauge, load_gauges
from inventory.models import BatchDraft
from inventory.views.acts import act_of

#: A file up to this is read while its upload is answered.
SMALL_BYTES = 256 * 1024
FAULTS_SHOWN = 200


@require_GET
@allow(KEEPERS)
def new_batch(request: HttpRequest) -> HttpResponse:
    """Show the three ways in which a batch comes in."""
    return _ways(request)


@require_POST
@allow(KEEPERS)
def upload(request: HttpRequest) -> HttpResponse:
    """Keep an uploaded file, to be looked at."""
    form = UploadForm(request.POST, request.FILES, gauges=_gauges())
    if not form.is_valid():
        return _ways(request, upload_form=form)
    file = form.cleaned_data["file"]
    # One byte more than is taken tells a file that is too large from one that fits.
    content = file.read(limits.BYTES + 1)
    return _drafted(request, form, content, BatchSource.FILE, file.name or "")


@require_POST
@allow(KEEPERS)
def paste(request: HttpRequest) -> HttpResponse:
    """Keep a pasted table, to be looked at."""
    form = PasteForm(request.POST, gauges=_gauges())
    if not form.is_valid():
        return _ways(request, paste_form=form)
    content = form.cleaned_data["table"].encode()
    return _drafted(request, form, content, BatchSource.PASTED, "")


@require_POST
@allow(KEEPERS)
def start_caliper(request: HttpRequest) -> HttpResponse:
    """Start a batch that is measured here."""
    form = BenchForm(request.POST, gauges=_gauges())
    if form.is_valid():
        try:
            batch = start_bench(form.new_bench(), act=act_of(request))
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inventory:bench", batch_id=batch.pk)
    return _ways(request, bench_form=form)


@require_GET
@allow(KEEPERS)
def draft(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Show how far a file is read, or what its columns were taken for."""
    found = get_object_or_404(BatchDraft.objects.defer("content"), pk=draft_id)
    under_way = found.state in {DraftState.WAITING, DraftState.READING}
    if request.htmx:  # type: ignore[attr-defined]
        if not under_way:
            return HttpResponseClientRefresh()
        return render(request, "inventory/pieces/draft_progress.html", {"draft": found})
    if under_way or found.state == DraftState.REFUSED:
        return render(request, "inventory/draft_reading.html", {"draft": found})
    return _preview(request, found)


@require_POST
@allow(KEEPERS)
def read(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Read a draft's file; the answer comes when it is read."""
    read_draft(draft_id, act=act_of(request))
    if request.htmx:  # type: ignore[attr-defined]
        return HttpResponseClientRefresh()
    return redirect("inventory:draft", draft_id=draft_id)


@require_POST
@allow(KEEPERS)
def columns(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Take what a person says of the columns, and show the table again."""
    found = _read_draft_of(draft_id)
    preview = preview_draft(found, gauge=_gauge_of(found))
    form = _layout_form(found, preview, request.POST)
    if not form.is_valid():
        return _preview(request, found, layout_form=form)
    if form.reads_again:
        said = form.cleaned_data
        read_again(
            found,
            sheet=said.get("sheet", ""),
            divider=said.get("divider", ""),
            act=act_of(request),
        )
        read_draft(found.pk, act=act_of(request))
    else:
        say_columns(found, form.said(), act=act_of(request))
    return redirect("inventory:draft", draft_id=draft_id)


@require_GET
@allow(KEEPERS)
def faults(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Give every wrong cell as a file."""
    found = _read_draft_of(draft_id)
    preview = preview_draft(found, gauge=_gauge_of(found))
    table = ExportTable(
        name="faults",
        headings=("row", "column", "value", "reason", "sentence"),
        rows=[
            (one.number, one.column, one.value, one.code, one.sentence)
            for one in preview.faults
        ],
    )
    answer = HttpResponse(write_csv(table), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="faults-{draft_id}.csv"'
    return answer


@require_POST
@allow(KEEPERS)
def take(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Take the whole of a draft into stock, or none of it."""
    found = _read_draft_of(draft_id)
    gauge = _gauge_of(found)
    preview = preview_draft(found, gauge=gauge)
    if not preview.can_be_taken:
        messages.error(request, _("Nothing was taken in: see what is wrong below."))
        return _preview(request, found, preview=preview)
    try:
        batch = take_batch(
            batch_of_draft(found, gauge=gauge), preview.checked, act=act_of(request)
        )
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return _preview(request, found, preview=preview)
    count = len(preview.read.rows)
    taken = ngettext(
        "%(count)s part is in stock.", "%(count)s parts are in stock.", count
    )
    messages.success(request, taken % {"count": f"{count:,}"})
    if batch.kind == PartKind.MOTOR:
        return redirect("inventory:new_draw")
    return redirect("inventory:batch", which=str(batch.pk))


@require_POST
@allow(KEEPERS)
def drop(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Throw a draft away."""
    drop_draft(draft_id, act=act_of(request))
    return redirect("inventory:new_batch")


def _gauges() -> list[LoadedGauge]:
    return load_gauges(timezone.now(), **OF_TYRES)


def _gauge_of(found: BatchDraft) -> LoadedGauge | None:
    if found.gauge_mode_id is None:
        return None
    loaded = load_gauges(timezone.now(), pk=found.gauge_mode_id)
    return loaded[0] if loaded else None


def _read_draft_of(draft_id: int) -> BatchDraft:
    return get_object_or_404(
        BatchDraft.objects.defer("content"), pk=draft_id, state=DraftState.READ
    )


def _ways(request: HttpRequest, **bound: DraftForm | BenchForm) -> HttpResponse:
    gauges = _gauges()
    forms: dict[str, Any] = {
        "upload_form": UploadForm(gauges=gauges),
        "paste_form": PasteForm(gauges=gauges),
        "bench_form": BenchForm(gauges=gauges),
    }
    context = {**forms, **bound, "has_gauges": bool(gauges)}
    status = 422 if bound else 200
    return render(request, "inventory/new_batch.html", context, status=status)


def _drafted(
    request: HttpRequest,
    form: UploadForm | PasteForm,
    content: bytes,
    source: BatchSource,
    name: str,
) -> HttpResponse:
    act = act_of(request)
    try:
        made = upload_draft(form.new_draft(content, source, name), act=act)
    except RefusedError as refusal:
        form.refuse(refusal)
        key = "upload_form" if source is BatchSource.FILE else "paste_form"
        return _ways(request, **{key: form})
    if len(content) <= SMALL_BYTES:
        read_draft(made.pk, act=act)
    return redirect("inventory:draft", draft_id=made.pk)


def _layout_form(found: BatchDraft, preview: Preview, data: Any = None) -> LayoutForm:
    return LayoutForm(
        data,
        table=preview.table,
        layout=preview.layout,
        kind=PartKind(found.kind),
    )


def _preview(
    request: HttpRequest,
    found: BatchDraft,
    *,
    preview: Preview | None = None,
    layout_form: LayoutForm | None = None,
) -> HttpResponse:
    gauge = _gauge_of(found)
    shown = preview or preview_draft(found, gauge=gauge)
    form = layout_form or _layout_form(found, shown)
    roles = [form[f"role{column}"] for column in range(len(shown.layout.roles))]
    context = {
        "draft": found,
        "gauge": gauge,
        "preview": shown,
        "form": form,
        "columns": list(zip(roles, shown.headings, strict=True)),
        "sample": shown.sample(),
        "faults": shown.faults[:FAULTS_SHOWN],
        "counts": shown.counts,
        "divider": DIVIDER_NAMES.get(shown.table.facts.divider, ""),
    }
    refused = layout_form is not None or preview is not None
    status = 422 if refused else 200
    return render(request, "inventory/draft.html", context, status=status)
