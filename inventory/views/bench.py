"""The caliper road: one tyre after another, by the keyboard alone."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from inventory.access import KEEPERS, allow
from inventory.actions.batches import measure_tyre
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import retire_part
from inventory.compute.batch_words import BatchSource
from inventory.compute.stock import PartKind, PartQuantity, PartState
from inventory.forms.bench import BenchTyreForm
from inventory.loaders.batches import OF_TYRES
from inventory.loaders.gauges import load_gauges
from inventory.models import Batch, PartEstimate
from inventory.views.acts import act_of

LAST_SHOWN = 8


@require_http_methods(["GET", "POST"])
@allow(KEEPERS)
def measure(request: HttpRequest, batch_id: int) -> HttpResponse:
    """Measure the next tyre of a batch."""
    batch = _batch_of(batch_id)
    gauges = load_gauges(timezone.now(), **OF_TYRES)
    form = BenchTyreForm(request.POST or None, batch=batch, gauges=gauges)
    if form.is_valid():
        try:
            measure_tyre(
                batch,
                form.row(batch.members.count() + 1),
                sent_id=form.cleaned_data["sent_id"],
                gauge=form.chosen_gauge,
                act=act_of(request),
            )
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            if not request.htmx:  # type: ignore[attr-defined]
                return redirect("inventory:bench", batch_id=batch.pk)
            gauge = form.chosen_gauge.mode.pk
            form = BenchTyreForm(batch=batch, gauges=gauges)
            form.initial["gauge"] = gauge
    return _page(request, batch, form)


@require_POST
@allow(KEEPERS)
def drop_last(request: HttpRequest, batch_id: int) -> HttpResponse:
    """Take the tyre that was measured last out of stock again."""
    batch = _batch_of(batch_id)
    last = batch.members.select_related("part").order_by("-position").first()
    if last is not None and last.part.state == PartState.IN_STOCK:
        try:
            retire_part(last.part, reason=_("measured wrongly"), act=act_of(request))
        except RefusedError as refusal:
            messages.error(request, refusal.sentence)
    return redirect("inventory:bench", batch_id=batch.pk)


def _batch_of(batch_id: int) -> Batch:
    return get_object_or_404(
        Batch, pk=batch_id, kind=PartKind.TYRE, source=BatchSource.CALIPER
    )


def _page(request: HttpRequest, batch: Batch, form: BenchTyreForm) -> HttpResponse:
    is_swap = bool(request.htmx)  # type: ignore[attr-defined]
    context = {
        "batch": batch,
        "form": form,
        "number": batch.members.count() + 1,
        "last": _last(batch),
    }
    template = "inventory/pieces/bench.html" if is_swap else "inventory/bench.html"
    return render(request, template, context, status=422 if form.errors else 200)


def _last(batch: Batch) -> list[dict[str, object]]:
    """Give the tyres measured last, the newest first, each with its size and form."""
    members = list(
        batch.members.select_related("part").order_by("-position")[:LAST_SHOWN]
    )
    said: dict[int, dict[str, float]] = {}
    rows = PartEstimate.objects.current().filter(
        part__in=[one.part_id for one in members]
    )
    for part, quantity, value in rows.values_list("part", "quantity", "value"):
        said.setdefault(part, {})[quantity] = value / 1e6
    return [
        {
            "number": one.position + 1,
            "part": one.part,
            "is_out": one.part.state == PartState.RETIRED,
            "diameter": said.get(one.part_id, {}).get(PartQuantity.TYRE_DIAMETER),
            "out_of_round": said.get(one.part_id, {}).get(PartQuantity.OUT_OF_ROUND),
            "taper": said.get(one.part_id, {}).get(PartQuantity.TAPER),
        }
        for one in members
    ]
