"""The pairing page: a bag, its pairs, its rest; confirmed into bags with labels."""

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from inventory.access import allow
from inventory.actions.pairing import NewPairing, NewSet, confirm_pairing, undo_pairing
from inventory.actions.refusals import RefusedError
from inventory.compute.pairing import PairingWay
from inventory.compute.roles import Ability
from inventory.compute.stock import PartKind
from inventory.drawing.strip import describe_strip, draw_strip
from inventory.files.exports import MEDIA, ExportForm
from inventory.forms.answers import (
    LOOSE,
    Answer,
    answer_of,
    batch_of,
    form_of,
    seen_as,
)
from inventory.forms.pairing import ConfirmForm
from inventory.forms.written.tables import parts_table
from inventory.loaders.batches import (
    batches_with_counts,
    count_batch,
    load_bag,
    loose_parts,
    pairings_of,
    parts_of,
)
from inventory.loaders.exported import load_held
from inventory.models import Batch, BatchDraft, Pairing, PartSet
from inventory.views.acts import act_of
from inventory.views.pairing.pieces import (
    proof_of,
    rejects_of,
    rest_of,
    scale_of,
    sets_of,
    strip_of,
    truing_of,
)
from inventory.views.pairing.tables import pairs_json, pairs_table
from inventory.views.sent import export_form, sent, sent_tables

ROWS_A_PAGE = 100
REST_SHOWN = 200
BATCHES_A_PAGE = 25


@require_GET
@allow(Ability.LOOK)
def pairing(request: HttpRequest) -> HttpResponse:
    """List the batches, and what else there is to pair."""
    page = Paginator(batches_with_counts(), BATCHES_A_PAGE).get_page(
        request.GET.get("page")
    )
    return render(
        request,
        "inventory/pairing/pairing.html",
        {
            "page": page,
            "drafts": BatchDraft.objects.defer("content", "table").select_related("by"),
            "loose_count": loose_parts(None, PartKind.TYRE).count(),
            "set_count": PartSet.objects.together().count(),
        },
    )


@require_GET
@allow(Ability.LOOK)
def batch(request: HttpRequest, which: str) -> HttpResponse:
    """Pair a batch, or all loose tyres, the way that the address asks for."""
    batch = batch_of(which)
    loaded = load_bag(batch)
    form = form_of(request.GET, loaded.bag)
    answer = answer_of(form, loaded)
    context = {
        "batch": batch,
        "which": which,
        "form": form,
        "counts": count_batch(batch) if batch else None,
        "pairings": pairings_of(batch),
        **_shown(request, answer),
    }
    is_swap = bool(request.htmx)  # type: ignore[attr-defined]
    template = "pieces/paired.html" if is_swap else "batch.html"
    status = 200 if answer else 422
    return render(request, f"inventory/pairing/{template}", context, status=status)


@require_POST
@allow(Ability.KEEP_PARTS)
def confirm(request: HttpRequest, which: str) -> HttpResponse:
    """Make stock of the pairs that were looked at."""
    batch = batch_of(which)
    answer = _asked_of(request, batch)
    form = ConfirmForm(request.POST)
    back = f"{reverse('inventory:batch', args=[which])}?{request.GET.urlencode()}"
    if answer is None or not form.is_valid():
        wrong = [str(each) for errors in form.errors.values() for each in errors]
        messages.error(request, " ".join(wrong) or _("Nothing was confirmed."))
        return redirect(back)
    if form.cleaned_data["seen"] != seen_as(answer.loaded, answer.found):
        messages.error(
            request,
            _(
                "The bag has changed since this page was made, and nothing was "
                "confirmed; these are the pairs now."
            ),
        )
        return redirect(back)
    new = NewPairing(
        batch=batch,
        sets=_new_sets(answer, form.drawers(len(answer.found.members))),
        settings=dict(request.GET.lists()),
    )
    try:
        made = confirm_pairing(new, act=act_of(request))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect(back)
    return redirect("inventory:confirmed", pairing_id=made.pk)


@require_GET
@allow(Ability.LOOK)
def confirmed(request: HttpRequest, pairing_id: int) -> HttpResponse:
    """Show the pairs that were confirmed together."""
    pairing = get_object_or_404(
        Pairing.objects.select_related("batch", "by"), pk=pairing_id
    )
    sets = pairing.sets.prefetch_related("members__part__tyre").order_by("pk")
    page = Paginator(sets, ROWS_A_PAGE).get_page(request.GET.get("page"))
    return render(
        request, "inventory/pairing/confirmed.html", {"pairing": pairing, "page": page}
    )


@require_POST
@allow(Ability.KEEP_PARTS)
def undo(request: HttpRequest, pairing_id: int) -> HttpResponse:
    """Undo a confirmation, until one of its pairs is handed out."""
    pairing = get_object_or_404(Pairing, pk=pairing_id)
    try:
        undo_pairing(pairing, act=act_of(request))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inventory:confirmed", pairing_id=pairing_id)
    which = str(pairing.batch_id) if pairing.batch_id else LOOSE
    return redirect("inventory:batch", which=which)


@require_GET
@allow(Ability.LOOK)
def export(request: HttpRequest, which: str, form: str) -> HttpResponse:
    """Give the pairs and the rest as a file, or the tyres with their readings."""
    wanted = export_form(form)
    batch = batch_of(which)
    if request.GET.get("of") == "tyres":
        tyres = load_held(parts_of(batch), PartKind.TYRE)
        table = parts_table(tyres, PartKind.TYRE)
        return sent_tables(request, [table], wanted, f"tyres-{which}")
    answer = _asked_of(request, batch)
    if answer is None:
        return redirect("inventory:batch", which=which)
    name = f"pairs-{which}"
    if wanted is ExportForm.JSON:
        media, ending = MEDIA[wanted]
        content = pairs_json(answer)
        return sent(request, content, media, f"{name}.{ending}", form=form)
    return sent_tables(request, [pairs_table(answer)], wanted, name)


def _asked_of(request: HttpRequest, batch: Batch | None) -> Answer | None:
    loaded = load_bag(batch)
    return answer_of(form_of(request.GET, loaded.bag), loaded)


def _new_sets(answer: Answer, drawers: Sequence[str]) -> list[NewSet]:
    ids = answer.loaded.part_ids
    return [
        NewSet(
            part_ids=[ids[place] for place in row],
            spread=int(spread_um) * 1000,
            drawer=drawer,
        )
        for row, spread_um, drawer in zip(
            answer.found.members.tolist(),
            answer.found.difference_um.tolist(),
            drawers,
            strict=True,
        )
    ]


def _shown(request: HttpRequest, answer: Answer | None) -> dict[str, Any]:
    if answer is None:
        return {"answer": None}
    loaded, paired, asked = answer.loaded, answer.found, answer.asked
    page = Paginator(paired.members, ROWS_A_PAGE).get_page(request.GET.get("page"))
    first = (page.number - 1) * ROWS_A_PAGE
    strip = strip_of(loaded, paired, asked)
    query = request.GET.copy()
    query.pop("page", None)
    sets = sets_of(
        loaded,
        paired,
        first=first,
        last=first + ROWS_A_PAGE,
        track_mm=answer.track_mm,
    )
    rest, rejects = (
        rest_of(loaded, paired, asked.way),
        rejects_of(loaded, paired, asked),
    )
    return {
        "answer": answer,
        "is_sets": asked.way is PairingWay.SETS,
        "is_features": asked.way is PairingWay.FEATURES,
        "page": page,
        "query": f"{query.urlencode()}&" if query else "",
        "asked_query": query.urlencode(),
        "sets": sets,
        "scale": scale_of(sets),
        "rest": rest[:REST_SHOWN],
        "rest_count": len(rest),
        "rejects": rejects[:REST_SHOWN],
        "reject_count": len(rejects),
        "proof": proof_of(paired, asked.way),
        "truing": truing_of(loaded, answer.plan)[:REST_SHOWN] if answer.plan else [],
        "truing_count": len(answer.plan.keep) if answer.plan else 0,
        "strip": mark_safe(draw_strip(strip)),  # noqa: S308
        "sentences": describe_strip(strip),
        "confirm_form": ConfirmForm(initial={"seen": seen_as(loaded, paired)}),
    }
