"""New batches: a file, a paste or the caliper; and a file looked at before it is in."""

from http import HTTPStatus
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_POST
from django_htmx.http import HttpResponseClientRefresh

from inventory.access import allow, signed_in
from inventory.actions.batches import batch_of_draft, start_bench, take_batch
from inventory.actions.drafts import (
    NewDraft,
    drop_draft,
    mend_rows,
    read_again,
    read_draft,
    say_columns,
    say_kind,
    upload_draft,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.batches import BatchSource, DraftState
from inventory.compute.roles import Ability
from inventory.compute.stock import KINDS, PartKind
from inventory.files import limits
from inventory.files.exports import ExportTable, write_csv
from inventory.files.roles import roles_of
from inventory.forms.batches import (
    DIVIDER_NAMES,
    BenchForm,
    DraftForm,
    LayoutForm,
    MendForm,
    PasteForm,
    UploadForm,
)
from inventory.loaders.batches import OF_TYRES
from inventory.loaders.gauges import LoadedGauge, load_gauges
from inventory.loaders.incoming.previews import Preview, preview_draft
from inventory.models import BatchDraft
from inventory.views.acts import act_of
from inventory.views.sent import as_file
from inventory.words.enumerations import word_of

#: A file up to this is read while its upload is answered.
SMALL_BYTES = 256 * 1024
FAULTS_SHOWN = 200


@require_GET
@allow(Ability.KEEP_PARTS)
def new_batch(request: HttpRequest) -> HttpResponse:
    """Show the three ways in which a batch comes in."""
    return _ways(request)


@require_POST
@allow(Ability.KEEP_PARTS)
def upload(request: HttpRequest) -> HttpResponse:
    """Keep an uploaded file, to be looked at."""
    form = UploadForm(request.POST, request.FILES, gauges=_gauges())
    form.kept = _kept(request)
    if not form.is_valid():
        _keep_file(request, form)
        return _ways(request, upload_form=form)
    file = form.cleaned_data["file"]
    if file is None and form.kept is not None:
        content, name = bytes(form.kept.content), form.kept.file_name
    else:
        content, name = _content(file), file.name or ""
    answer = _drafted(request, form, content, BatchSource.FILE, name)
    if form.kept is not None and form.is_valid():
        drop_draft(form.kept.pk, act=act_of(request))
    return answer


@require_POST
@allow(Ability.KEEP_PARTS)
def paste(request: HttpRequest) -> HttpResponse:
    """Keep a pasted table, to be looked at."""
    form = PasteForm(request.POST, gauges=_gauges())
    if not form.is_valid():
        return _ways(request, paste_form=form)
    content = form.cleaned_data["table"].encode()
    return _drafted(request, form, content, BatchSource.PASTED, "")


@require_POST
@allow(Ability.KEEP_PARTS)
def start_caliper(request: HttpRequest) -> HttpResponse:
    """Start a batch that is measured here."""
    form = BenchForm(request.POST, gauges=_gauges())
    if form.is_valid():
        with form.refusing():
            batch = start_bench(form.new_bench(), act=act_of(request))
            return redirect("inventory:bench", batch_id=batch.pk)
    return _ways(request, bench_form=form)


@require_GET
@allow(Ability.KEEP_PARTS)
def draft(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Show how far a file is read, or what its columns were taken for."""
    draft = BatchDraft.objects.defer("content").filter(pk=draft_id).first()
    if draft is None:
        if not request.htmx:  # type: ignore[attr-defined]
            raise Http404
        # What the page gets asks no more.
        return render(request, "inventory/batches/pieces/draft_gone.html")
    under_way = draft.state in {DraftState.WAITING, DraftState.READING}
    if request.htmx:  # type: ignore[attr-defined]
        if not under_way:
            return HttpResponseClientRefresh()
        return render(
            request, "inventory/batches/pieces/draft_progress.html", {"draft": draft}
        )
    if under_way or draft.state == DraftState.REFUSED:
        return render(request, "inventory/batches/draft_reading.html", {"draft": draft})
    return _preview(request, draft)


@require_POST
@allow(Ability.KEEP_PARTS)
def read(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Read a draft's file; the answer comes when it is read."""
    read_draft(draft_id, act=act_of(request))
    if request.htmx:  # type: ignore[attr-defined]
        if not BatchDraft.objects.filter(pk=draft_id).exists():
            return HttpResponse(status=HTTPStatus.NO_CONTENT)
        return HttpResponseClientRefresh()
    return redirect("inventory:draft", draft_id=draft_id)


@require_POST
@allow(Ability.KEEP_PARTS)
def columns(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Take what a person says of the columns, and show the table again."""
    draft = _read_draft_of(draft_id)
    preview = preview_draft(draft, gauge=_gauge_of(draft))
    form = _layout_form(draft, preview, request.POST)
    if not form.is_valid():
        return _preview(request, draft, layout_form=form)
    if form.other_kind is not None:
        say_kind(draft, preview.table, form.other_kind, act=act_of(request))
    elif form.reads_again:
        cleaned = form.cleaned_data
        read_again(
            draft,
            sheet=cleaned.get("sheet", ""),
            divider=cleaned.get("divider", ""),
            act=act_of(request),
        )
        read_draft(draft.pk, act=act_of(request))
    else:
        say_columns(draft, form.said(), act=act_of(request))
    return redirect("inventory:draft", draft_id=draft_id)


@require_GET
@allow(Ability.KEEP_PARTS)
def faults(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Give every wrong cell as a file."""
    draft = _read_draft_of(draft_id)
    preview = preview_draft(draft, gauge=_gauge_of(draft))
    table = ExportTable(
        name="faults",
        headings=("row", "column", "value", "reason", "sentence"),
        rows=[
            (one.number, one.column, one.value, one.code, one.sentence)
            for one in preview.faults
        ],
    )
    answer = HttpResponse(write_csv(table), content_type="text/csv; charset=utf-8")
    return as_file(answer, f"faults-{draft_id}.csv")


@require_GET
@allow(Ability.KEEP_PARTS)
def wrong_rows(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Give the rows that stay out as a file, each with what is wrong with it."""
    draft = _read_draft_of(draft_id)
    preview = preview_draft(draft, gauge=_gauge_of(draft))
    table = ExportTable(
        name="rows",
        headings=("row", *preview.headings, "reason"),
        rows=[(row, *cells, reason) for row, cells, reason in preview.wrong_rows()],
    )
    answer = HttpResponse(write_csv(table), content_type="text/csv; charset=utf-8")
    return as_file(answer, f"rows-{draft_id}.csv")


@require_POST
@allow(Ability.KEEP_PARTS)
def mend(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Take what was typed for wrong cells, and look at the table again."""
    draft = _read_draft_of(draft_id)
    preview = preview_draft(draft, gauge=_gauge_of(draft))
    form = _mend_form(preview, request.POST)
    if not form.is_valid():
        return _preview(request, draft, preview=preview, mend_form=form)
    mend_rows(draft, preview.table, form.cells, form.parts, act=act_of(request))
    return redirect("inventory:draft", draft_id=draft_id)


@require_POST
@allow(Ability.KEEP_PARTS)
def take(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Take the whole of a draft into stock, or none of it."""
    draft = _read_draft_of(draft_id)
    gauge = _gauge_of(draft)
    preview = preview_draft(draft, gauge=gauge)
    left_out = preview.wrong_count
    if not preview.can_be_taken or request.POST.get("leave_out", "0") != str(left_out):
        messages.error(request, _not_taken(left_out))
        return _preview(request, draft, preview=preview)
    try:
        is_another = "is_another" in request.POST
        batch = take_batch(
            batch_of_draft(
                draft, gauge=gauge, left_out=left_out, is_another=is_another
            ),
            preview.taken,
            act=act_of(request),
        )
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return _preview(request, draft, preview=preview)
    count = len(preview.taken.rows)
    taken = ngettext(
        "%(count)s part is in stock.", "%(count)s parts are in stock.", count
    )
    messages.success(request, taken % {"count": f"{count:,}"})
    if batch.kind == PartKind.TYRE:
        return redirect("inventory:batch", which=str(batch.pk))
    if batch.kind == PartKind.MOTOR:
        return redirect("inventory:new_draw")
    return redirect(f"{reverse('inventory:parts')}?kind={batch.kind}")


@require_POST
@allow(Ability.KEEP_PARTS)
def drop(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Throw a draft away."""
    drop_draft(draft_id, act=act_of(request))
    return redirect("inventory:new_batch")


def _mend_form(preview: Preview, data: Any = None) -> MendForm:
    return MendForm(data, faults=preview.faults[:FAULTS_SHOWN], table=preview.table)


def _not_taken(wrong: int) -> str:
    if not wrong:
        return _("Nothing was taken in: see below what is to be said first.")
    return ngettext(
        "Nothing was taken in: %(count)s row is wrong. Mend it, or leave it out.",
        "Nothing was taken in: %(count)s rows are wrong. Mend them, or leave them out.",
        wrong,
    ) % {"count": f"{wrong:,}"}


def _gauges() -> list[LoadedGauge]:
    return load_gauges(timezone.now(), **OF_TYRES)


def _gauge_of(draft: BatchDraft) -> LoadedGauge | None:
    if draft.gauge_mode_id is None:
        return None
    loaded = load_gauges(timezone.now(), pk=draft.gauge_mode_id)
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
    tables = [
        (KINDS[kind].plural, [role.name for role in roles_of(kind) if role.headings])
        for kind in KINDS
    ]
    context = {**forms, **bound, "has_gauges": bool(gauges), "tables": tables}
    status = 422 if bound else 200
    return render(request, "inventory/batches/new_batch.html", context, status=status)


def _content(file: Any) -> bytes:
    # One byte more than is taken tells a file that is too large from one that fits.
    content: bytes = file.read(limits.BYTES + 1)
    return content


def _kept(request: HttpRequest) -> BatchDraft | None:
    """Find the file that was kept while another field was wrong."""
    kept = request.POST.get("kept", "")
    if not kept.isdecimal() or len(kept) > 18:
        return None
    return BatchDraft.objects.filter(pk=int(kept), by=signed_in(request)).first()


def _keep_file(request: HttpRequest, form: UploadForm) -> None:
    """Keep a chosen file while another field is wrong: no page can choose it again."""
    file = form.cleaned_data.get("file")
    if not file:
        return
    name = form.cleaned_data.get("name") or file.name or _("A file")
    new = NewDraft(name=name[:60], content=_content(file), file_name=file.name or "")
    before, act = form.kept, act_of(request)
    with form.refusing():
        form.kept = upload_draft(new, act=act)
        if before is not None:
            drop_draft(before.pk, act=act)


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


def _layout_form(draft: BatchDraft, preview: Preview, data: Any = None) -> LayoutForm:
    return LayoutForm(
        data,
        table=preview.table,
        layout=preview.layout,
        kind=draft.kind,
    )


def _preview(
    request: HttpRequest,
    draft: BatchDraft,
    *,
    preview: Preview | None = None,
    layout_form: LayoutForm | None = None,
    mend_form: MendForm | None = None,
) -> HttpResponse:
    gauge = _gauge_of(draft)
    shown = preview or preview_draft(draft, gauge=gauge)
    form = layout_form or _layout_form(draft, shown)
    roles = [form[f"role{column}"] for column in range(len(shown.layout.roles))]
    context = {
        "draft": draft,
        "gauge": gauge,
        "preview": shown,
        "form": form,
        "plural": word_of(KINDS[draft.kind].plural),
        "columns": list(zip(roles, shown.headings, strict=True)),
        "sample": shown.sample(),
        "mend_form": mend_form or _mend_form(shown),
        "counts": shown.counts,
        "divider": DIVIDER_NAMES.get(shown.table.facts.divider, ""),
    }
    refused = layout_form is not None or preview is not None
    status = 422 if refused else 200
    return render(request, "inventory/batches/draft.html", context, status=status)
