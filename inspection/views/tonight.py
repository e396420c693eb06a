"""Tonight: the board, and putting a car on the block."""

import hashlib

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.access import ANYONE_SIGNED_IN, CHIEF, SCRUTINEERS
from inspection.actions.race_nights import call_back, withdraw_entry
from inspection.actions.sheets import reopen_car, start_sheet
from inspection.forms.tonight import OnTheBlockForm, ReasonForm
from inspection.loaders.board import load_board, night_tonight
from inspection.models import Entry
from inventory.access import allow
from inventory.actions.refusals import RefusedError
from inventory.views.acts import act_of


@require_GET
@allow(ANYONE_SIGNED_IN)
def tonight(request: HttpRequest) -> HttpResponse:
    """Show the board; a poll that finds nothing new gets 304."""
    night = night_tonight()
    board = load_board(night, timezone.now()) if night else None
    token = get_token(request)
    said = {"board": board, "csrf_token": token}
    rows = render_to_string("inspection/tonight_board.html", said, request)
    # Every answer has a token of its own; the board itself is what counts.
    digest = hashlib.sha256(rows.replace(token, "").encode()).hexdigest()
    tag = f'"{digest[:24]}"'
    is_poll = "HX-Request" in request.headers
    if is_poll and request.headers.get("If-None-Match") == tag:
        return HttpResponseNotModified()
    template = "tonight_poll" if is_poll else "tonight"
    page = render(
        request,
        f"inspection/{template}.html",
        {"board": board, "rows": rows, "tag": tag},
    )
    if is_poll:
        page.headers["ETag"] = tag
    patch_vary_headers(page, ["HX-Request"])
    return page


@require_http_methods(["GET", "POST"])
@allow(SCRUTINEERS)
def put_on_block(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Ask where, and what was changed since the last time; then start a sheet."""
    entry = get_object_or_404(
        Entry.objects.select_related("car", "driver", "race_class"), pk=entry_id
    )
    previous = entry.sheets.first()
    form = OnTheBlockForm(
        request.POST or None,
        is_recheck=previous is not None,
        block_id=request.session.get("block"),
    )
    if form.is_valid():
        block = form.cleaned_data["block"]
        try:
            sheet = start_sheet(
                entry.pk,
                block=block,
                changed=form.areas,
                act=act_of(request),
            )
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            request.session["block"] = block.pk if block else None
            return redirect("inspection:block", number=sheet.number)
    return render(
        request,
        "inspection/put_on_block.html",
        {"entry": entry, "form": form, "previous": previous},
        status=422 if form.errors else 200,
    )


@require_POST
@allow(SCRUTINEERS)
def queue_again(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Put a car that was sent back in the queue for its re-check."""
    get_object_or_404(Entry, pk=entry_id)
    try:
        call_back(entry_id, act=act_of(request))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
    return redirect("inspection:tonight")


@require_http_methods(["GET", "POST"])
@allow(SCRUTINEERS)
def withdraw(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Take a car out of tonight's racing, with a reason."""
    entry = get_object_or_404(Entry.objects.select_related("car"), pk=entry_id)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        try:
            withdraw_entry(
                entry.pk, reason=form.cleaned_data["reason"], act=act_of(request)
            )
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inspection:tonight")
    return render(
        request,
        "inspection/reason.html",
        {"entry": entry, "form": form, "doing": "withdraw"},
        status=422 if form.errors else 200,
    )


@require_http_methods(["GET", "POST"])
@allow(CHIEF)
def reopen(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Bring a passed car back on the block, with the chief's reason."""
    entry = get_object_or_404(Entry.objects.select_related("car"), pk=entry_id)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        try:
            sheet = reopen_car(
                entry.pk,
                reason=form.cleaned_data["reason"],
                block=None,
                act=act_of(request),
            )
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inspection:block", number=sheet.number)
    return render(
        request,
        "inspection/reason.html",
        {"entry": entry, "form": form, "doing": "reopen"},
        status=422 if form.errors else 200,
    )
