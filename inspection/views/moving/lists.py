"""Lists by which a club moves in: a template, a file, what would come of it, in."""

from typing import Any, Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.actions.moving.lists import (
    bring_list,
    drop_list,
    rows_in,
    say_list_columns,
    take_list,
)
from inspection.compute.lists import ListKind
from inspection.files.lists.columns import COLUMNS_OF
from inspection.files.lists.reading import (
    ListLayout,
    columns_read,
    heading_of,
    joined_columns,
    missing_columns,
    template,
    wrong_rows,
)
from inspection.forms.moving.lists import ListColumnsForm, ListForm
from inspection.models import ListDraft
from inventory.access import allow
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.files.exports import MEDIA, ExportForm, write_table
from inventory.files.kept_tables import unpack_table
from inventory.views.acts import act_of
from inventory.views.sent import as_file

FAULTS_A_PAGE: Final = 50
ROWS_SHOWN: Final = 8
_FORMS: Final = (ExportForm.CSV, ExportForm.XLSX)


@require_http_methods(["GET", "POST"])
@allow(Ability.MOVE_CLUB)
def new_list(request: HttpRequest, kind: str) -> HttpResponse:
    """Say what a list of a kind holds, and take a file of one."""
    of = _kind(kind)
    form = ListForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        with form.refusing():
            draft = bring_list(
                of, file.read(), file_name=file.name, act=act_of(request)
            )
            return redirect("inspection:list_draft", draft.pk)
    page = {
        "form": form,
        "kind": of,
        "columns": [one for one in COLUMNS_OF[of] if one.is_needed or one.expects],
        "sizes": [
            one for one in COLUMNS_OF[of] if not one.is_needed and not one.expects
        ],
        "forms": _FORMS,
        "drafts": ListDraft.objects.filter(kind=of),
    }
    status = 422 if form.errors else 200
    return render(request, "inspection/moving/new_list.html", page, status=status)


@require_GET
@allow(Ability.MOVE_CLUB)
def list_template(request: HttpRequest, kind: str, form: str) -> HttpResponse:
    """Give an empty list with its headings."""
    if form not in _FORMS:
        msg = f"“{form}” is no form of a template."
        raise Http404(msg)
    return _file(template(_kind(kind)), ExportForm(form), name=f"{kind}-template")


@require_GET
@allow(Ability.MOVE_CLUB)
def list_draft(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Show what would come of a list."""
    return _page(request, _draft(draft_id))


@require_POST
@allow(Ability.MOVE_CLUB)
def list_columns(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Take it as said what the columns are."""
    draft = _draft(draft_id)
    form = _columns_form(draft, request.POST)
    if form.is_valid():
        with form.refusing():
            say_list_columns(
                draft.pk,
                form.names(),
                first_row=form.cleaned_data["first_row"] - 1,
                act=act_of(request),
            )
            return redirect("inspection:list_draft", draft.pk)
    return _page(request, draft, form=form)


@require_GET
@allow(Ability.MOVE_CLUB)
def list_wrong_rows(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Give the wrong rows as a file, to be mended and brought in again."""
    draft = _draft(draft_id)
    table = wrong_rows(
        unpack_table(bytes(draft.table)).rows,
        _layout(draft),
        [(number, sentence) for number, _column, sentence in draft.faults],
        draft.kind,
    )
    return _file(table, ExportForm.CSV, name=f"{draft.kind}-wrong-rows")


@require_POST
@allow(Ability.MOVE_CLUB)
def take(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Take the list in."""
    draft = _draft(draft_id)
    try:
        tried = take_list(
            draft.pk, leave_out_wrong="leave_out" in request.POST, act=act_of(request)
        )
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inspection:list_draft", draft.pk)
    sentence = _("%(n)s rows of %(kind)s are in.")
    messages.success(request, sentence % {"n": tried.taken, "kind": draft.kind})
    if draft.kind == ListKind.PEOPLE and tried.taken:
        words = _("They have no password yet: hand each a link, from their page.")
        messages.info(request, words)
        return redirect("inventory:people")
    return redirect("inspection:moving")


@require_POST
@allow(Ability.MOVE_CLUB)
def drop(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Throw the list away."""
    draft = _draft(draft_id)
    drop_list(draft.pk, act=act_of(request))
    return redirect("inspection:new_list", draft.kind)


def _page(
    request: HttpRequest, draft: ListDraft, *, form: ListColumnsForm | None = None
) -> HttpResponse:
    kind = draft.kind
    faults = [
        (number, heading_of(kind, column), sentence)
        for number, column, sentence in draft.faults
    ]
    used = columns_read(kind, draft.columns)
    rows = rows_in(draft)
    page: dict[str, Any] = {
        "draft": draft,
        "form": form or _columns_form(draft),
        "missing": missing_columns(kind, draft.columns),
        "joined": [
            (heading_of(kind, whole), [part.heading for part in parts])
            for whole, parts in joined_columns(kind, draft.columns).items()
        ],
        "faults": Paginator(faults, FAULTS_A_PAGE).get_page(request.GET.get("page")),
        "here": draft.here[:FAULTS_A_PAGE],
        "headings": [heading_of(kind, name) for name in used],
        "sample": [
            (row.number, [row.said.get(name, "") for name in used])
            for row in rows[:ROWS_SHOWN]
        ],
        "row_count": len(rows),
    }
    status = 422 if form is not None else 200
    return render(request, "inspection/moving/list_draft.html", page, status=status)


def _columns_form(draft: ListDraft, data: Any = None) -> ListColumnsForm:
    rows = unpack_table(bytes(draft.table)).rows
    above = rows[draft.first_row - 1] if draft.first_row else []
    headings = [
        above[place] if place < len(above) else ""
        for place in range(len(draft.columns))
    ]
    return ListColumnsForm(
        data,
        kind=draft.kind,
        names=draft.columns,
        first_row=draft.first_row,
        headings=headings,
    )


def _layout(draft: ListDraft) -> ListLayout:
    return ListLayout(first_row=draft.first_row, names=tuple(draft.columns))


def _kind(text: str) -> ListKind:
    if text not in list(ListKind):
        msg = f"“{text}” is no kind of list."
        raise Http404(msg)
    return ListKind(text)


def _draft(draft_id: int) -> ListDraft:
    return get_object_or_404(ListDraft, pk=draft_id)


def _file(table: Any, form: ExportForm, *, name: str) -> HttpResponse:
    media, ending = MEDIA[form]
    content = write_table(table, form)
    return as_file(HttpResponse(content, content_type=media), f"{name}.{ending}")
