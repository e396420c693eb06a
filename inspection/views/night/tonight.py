"""Tonight: the board, and putting a car on the block."""

import hashlib
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.actions.race_nights import call_back
from inspection.actions.sheets import start_sheet
from inspection.compute.night import EntryState
from inspection.forms.night.tonight import OnTheBlockForm
from inspection.loaders.night.board import Board, load_board, night_tonight
from inspection.loaders.night.checklist import load_checklist
from inspection.loaders.night.protests import heard_by
from inspection.loaders.night.walls import notices_now
from inspection.models import Block, Entry, RaceNight, Sheet
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page, refusals_told


@require_GET
@allow(Ability.LOOK)
def tonight(request: HttpRequest) -> HttpResponse:
    """Show the board of tonight; a poll that finds nothing new gets 304."""
    return _board(request, night_tonight(timezone.localdate()))


@require_GET
@allow(Ability.LOOK)
def board_of_night(request: HttpRequest, night_id: int) -> HttpResponse:
    """Show the board of any night."""
    return _board(request, get_object_or_404(RaceNight, pk=night_id))


def _board(request: HttpRequest, night: RaceNight | None) -> HttpResponse:
    now = timezone.now()
    board = load_board(night, now) if night else None
    token = get_token(request)
    context = {"csrf_token": token, **(_lanes(request, board) if board else {})}
    rows = render_to_string("inspection/night/tonight_board.html", context, request)
    # Every answer has a token of its own; the board itself is what counts.
    digest = hashlib.sha256(rows.replace(token, "").encode()).hexdigest()
    tag = f'"{digest[:24]}"'
    is_poll = "HX-Request" in request.headers
    if is_poll and request.headers.get("If-None-Match") == tag:
        return HttpResponseNotModified()
    template = "tonight_poll" if is_poll else "tonight"
    page = render(
        request,
        f"inspection/night/{template}.html",
        {
            "board": board,
            "chosen": request.GET.get("class", ""),
            "rows": rows,
            "tag": tag,
            "notices": () if is_poll else notices_now(),
            # Of this night; those of other nights are on /mine.
            "to_hear": heard_by(signed_in(request), board.to_hear) if board else (),
            "is_late": night is not None and night.is_late_at(now),
            "to_do": [] if is_poll else load_checklist(signed_in(request)),
        },
    )
    if is_poll:
        page.headers["ETag"] = tag
    patch_vary_headers(page, ["HX-Request"])
    return page


def _lanes(request: HttpRequest, board: Board) -> dict[str, Any]:
    """Give the board side by side: who waits, what is on which block, the rest."""
    chosen = request.GET.get("class", "")
    classes = [one.named.race_class for one in board.editions]
    race_class = next((one for one in classes if str(one.pk) == chosen), None)
    blocks = list(
        Block.objects.filter(is_in_use=True)
        .select_related("measured_by")
        .order_by("name")
    )
    shown = board.of_class(race_class.pk) if race_class else board
    return {
        "board": shown,
        "classes": classes,
        "race_class": race_class,
        "waiting": shown.rows(EntryState.WAITING),
        "blocks": shown.on_blocks(blocks),
        "on_block_count": len(shown.rows(EntryState.ON_BLOCK)),
        "sent_back": shown.rows(EntryState.SENT_BACK),
        "passed": shown.rows(EntryState.PASSED),
        "withdrawn": shown.rows(EntryState.WITHDRAWN),
        "my_block": _block_here(request, blocks),
        "next": shown.next_up,
    }


def _block_here(request: HttpRequest, blocks: list[Block]) -> Block | None:
    """Give the block where whoever looks measures: theirs, the last one, the only."""
    person = signed_in(request)
    mine = [one for one in blocks if one.measured_by_id == person.pk]
    last = [one for one in blocks if one.pk == request.session.get("block")]
    only = blocks if len(blocks) == 1 else []
    return next(iter([*mine, *last, *only]), None)


@require_http_methods(["GET", "POST"])
@allow(Ability.INSPECT_CARS)
def put_on_block(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Ask where, and what was changed since the last time; then start a sheet."""
    entry = get_object_or_404(
        Entry.objects.select_related("car", "driver", "race_class"), pk=entry_id
    )
    previous = Sheet.objects.counting().filter(entry=entry).first()
    if request.method == "GET" and previous is not None and not previous.is_sealed:
        return redirect("inspection:block", number=previous.number)
    form = OnTheBlockForm(
        request.POST or None,
        block_id=_usual_block(request),
    )
    if form.is_valid():
        block = form.cleaned_data["block"]
        with form.refusing():
            sheet = start_sheet(
                entry.pk,
                block=block,
                changed=form.areas,
                paper_at=form.cleaned_data["paper_at"],
                act=act_of(request),
            )
            request.session["block"] = block.pk if block else None
            return redirect("inspection:block", number=sheet.number)
    return form_page(
        request,
        form,
        "inspection/block/put_on_block.html",
        {"entry": entry, "previous": previous},
    )


@require_POST
@allow(Ability.INSPECT_CARS)
def queue_again(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Put a car that was sent back in the queue for its re-check."""
    entry = get_object_or_404(Entry, pk=entry_id)
    with refusals_told(request):
        call_back(entry_id, act=act_of(request))
    return redirect("inspection:night", night_id=entry.night_id)


def _usual_block(request: HttpRequest) -> int | None:
    """Give the block where this person measures, or else the one used last."""
    mine = Block.objects.filter(measured_by=signed_in(request), is_in_use=True)
    own_block: int | None = mine.values_list("pk", flat=True).first()
    return own_block or request.session.get("block")
