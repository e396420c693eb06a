"""The caliper road: one tyre after another, by the keyboard alone."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from inventory.access import allow
from inventory.actions.batches import measure_tyre
from inventory.actions.stock import retire_part
from inventory.compute.batches import BatchSource
from inventory.compute.numbers import from_millionths
from inventory.compute.roles import Ability
from inventory.compute.stock import PartKind, PartQuantity, PartState
from inventory.forms.bench import BenchTyreForm
from inventory.loaders.batches import OF_TYRES
from inventory.loaders.gauges import load_gauges
from inventory.models import Batch, PartEstimate
from inventory.views.acts import act_of, refusals_told

LAST_SHOWN = 8


@require_http_methods(["GET", "POST"])
@allow(Ability.KEEP_PARTS)
def measure(request: HttpRequest, batch_id: int) -> HttpResponse:
    """Measure the next tyre of a batch."""
    batch = _batch_of(batch_id)
    gauges = load_gauges(timezone.now(), **OF_TYRES)
    form = BenchTyreForm(request.POST or None, batch=batch, gauges=gauges)
    if form.is_valid():
        with form.refusing():
            measure_tyre(
                batch,
                form.row(batch.members.count() + 1),
                sent_id=form.cleaned_data["sent_id"],
                gauge=form.chosen_gauge,
                act=act_of(request),
            )
            if not request.htmx:  # type: ignore[attr-defined]
                return redirect("inventory:bench", batch_id=batch.pk)
            gauge = form.chosen_gauge.mode.pk
            form = BenchTyreForm(batch=batch, gauges=gauges)
            form.initial["gauge"] = gauge
    return _page(request, batch, form)


@require_POST
@allow(Ability.KEEP_PARTS)
def drop_last(request: HttpRequest, batch_id: int) -> HttpResponse:
    """Take the tyre that was measured last out of stock again."""
    batch = _batch_of(batch_id)
    last = batch.members.select_related("part").order_by("-position").first()
    if last is not None and last.part.state == PartState.IN_STOCK:
        with refusals_told(request):
            retire_part(last.part, reason=_("measured wrongly"), act=act_of(request))
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
    template = (
        "inventory/batches/pieces/bench.html"
        if is_swap
        else "inventory/batches/bench.html"
    )
    return render(request, template, context, status=422 if form.errors else 200)


def _last(batch: Batch) -> list[dict[str, object]]:
    """Give the tyres measured last, the newest first, each with its size and form."""
    members = list(
        batch.members.select_related("part").order_by("-position")[:LAST_SHOWN]
    )
    values_of_part: dict[int, dict[str, float]] = {}
    rows = PartEstimate.objects.current().filter(
        part__in=[one.part_id for one in members]
    )
    for part, quantity, value in rows.values_list("part", "quantity", "value"):
        values_of_part.setdefault(part, {})[quantity] = from_millionths(value)
    return [
        {
            "number": one.position + 1,
            "part": one.part,
            "is_out": one.part.state == PartState.RETIRED,
            "diameter": values_of_part.get(one.part_id, {}).get(
                PartQuantity.TYRE_DIAMETER
            ),
            "out_of_round": values_of_part.get(one.part_id, {}).get(
                PartQuantity.OUT_OF_ROUND
            ),
            "taper": values_of_part.get(one.part_id, {}).get(PartQuantity.TAPER),
        }
        for one in members
    ]
