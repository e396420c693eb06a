"""Pairs and sets in stock: one with its parts, its moves, and the labels of bags."""

from collections.abc import Callable

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from inventory.access import allow
from inventory.actions.pairing import hand_out_set, split_set
from inventory.compute.roles import Ability
from inventory.compute.stock import PartKind, PartState
from inventory.drawing.labels import Label, draw_label
from inventory.forms.pairing import HandOutForm, SplitForm
from inventory.forms.stock import as_tag
from inventory.forms.taking_back import take_back_form
from inventory.loaders.gauges import load_gauges
from inventory.loaders.pairs import LoadedSet, find_sets, load_sets
from inventory.models import PartSet
from inventory.views.acts import act_of, refusals_told
from inventory.views.addresses import is_only_here, printed_address
from inventory.views.stock.parts import kept_query

ROWS_A_PAGE = 50
LABELS_A_PAGE = 120


@require_GET
@allow(Ability.LOOK)
def pairs(request: HttpRequest) -> HttpResponse:
    """List the pairs and sets in stock; search by tag, drawer or compound."""
    sets = find_sets(as_tag(request.GET.get("q", "")))
    page = Paginator(sets, ROWS_A_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "inventory/stock/pairs.html",
        {
            "page": page,
            "sets": load_sets(page.object_list),
            "q": request.GET.get("q", ""),
            "query": kept_query(request),
        },
    )


@require_GET
@allow(Ability.LOOK)
def pair(request: HttpRequest, tag: str) -> HttpResponse:
    """Show one pair or set."""
    return pair_page(request, set_of(tag))


@require_POST
@allow(Ability.KEEP_PARTS)
def split(request: HttpRequest, tag: str) -> HttpResponse:
    """Split a pair, with a reason."""
    pair, form = set_of(tag), SplitForm(request.POST)
    if not form.is_valid():
        return pair_page(request, pair, split_form=form)
    reason = form.cleaned_data["reason"]
    return _do(
        request, tag, lambda: split_set(pair, reason=reason, act=act_of(request))
    )


@require_POST
@allow(Ability.KEEP_PARTS)
def hand_out(request: HttpRequest, tag: str) -> HttpResponse:
    """Hand a pair out to somebody."""
    pair, form = set_of(tag), HandOutForm(request.POST)
    if not form.is_valid():
        return pair_page(request, pair, hand_out_form=form)
    cleaned = form.cleaned_data
    return _do(
        request,
        tag,
        lambda: hand_out_set(
            pair, cleaned["to_person"], note=cleaned["note"], act=act_of(request)
        ),
    )


@require_GET
@allow(Ability.LOOK)
def labels(request: HttpRequest) -> HttpResponse:
    """Print bag labels: of one confirmation, or of the pairs that are named."""
    sets: QuerySet[PartSet] = PartSet.objects.together()
    pairing_id = request.GET.get("pairing", "")
    if pairing_id.isdecimal() and len(pairing_id) <= 18:
        sets = sets.filter(pairing=int(pairing_id))
    else:
        sets = sets.filter(tag__in=request.GET.getlist("tag")[:LABELS_A_PAGE])
    page = Paginator(sets.order_by("pk"), LABELS_A_PAGE).get_page(
        request.GET.get("page")
    )
    made = [_label(request, one) for one in load_sets(page.object_list)]
    return render(
        request,
        "inventory/stock/pair_labels.html",
        {
            "labels": [mark_safe(draw_label(one)) for one in made],  # noqa: S308
            "is_only_here": is_only_here(printed_address(request, "")),
            "page": page,
            "query": kept_query(request),
        },
    )


def set_of(tag: str) -> PartSet:
    """Give the pair or set of a tag, or 404."""
    return get_object_or_404(
        PartSet.objects.select_related("pairing__batch", "pairing__by"), tag=tag
    )


def _do(request: HttpRequest, tag: str, action: Callable[[], None]) -> HttpResponse:
    with refusals_told(request):
        action()
    return redirect("inventory:pair", tag=tag)


def pair_page(request: HttpRequest, pair: PartSet, **bound: object) -> HttpResponse:
    """Show a pair or set; a form that was refused stands there as it was sent."""
    (loaded,) = load_sets([pair])
    states = {one.state for one in loaded.parts}
    context = {
        "set": pair,
        "loaded": loaded,
        "all_in": states == {PartState.IN_STOCK},
        "some_out": PartState.WITH_MEMBER in states,
        "split_form": SplitForm(),
        "hand_out_form": HandOutForm(),
        "back_form": take_back_form(None, loaded.parts, load_gauges(timezone.now())),
    }
    status = 422 if bound else 200
    return render(request, "inventory/stock/pair.html", context | bound, status=status)


def _label(request: HttpRequest, loaded: LoadedSet) -> Label:
    part_set = loaded.part_set
    address = printed_address(request, reverse("inventory:pair", args=[part_set.tag]))
    lines = [loaded.spread_text, part_set.drawer]
    heading = loaded.facts or (
        _("pair") if part_set.kind == PartKind.TYRE else _("motors")
    )
    return Label(
        tag=part_set.tag,
        address=address,
        figure=loaded.sizes_text,
        heading=heading,
        lines=[line for line in lines if line],
    )
