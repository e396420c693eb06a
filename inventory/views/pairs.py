"""Pairs and sets in stock: one with its parts, its moves, and the labels of bags."""

from collections.abc import Callable

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from inventory.access import ANYONE_SIGNED_IN, KEEPERS, allow
from inventory.actions.pairing import hand_out_set, split_set, take_back_set
from inventory.actions.refusals import RefusedError
from inventory.compute.stock import PartKind, PartState
from inventory.drawing.labels import Label, draw_label
from inventory.forms.pairing import HandOutForm, SplitForm
from inventory.forms.parts import as_tag
from inventory.loaders.pairs import LoadedSet, load_sets
from inventory.models import PartSet
from inventory.views.acts import act_of
from inventory.views.parts import kept_query

ROWS_A_PAGE = 50
LABELS_A_PAGE = 120


@require_GET
@allow(ANYONE_SIGNED_IN)
def pairs(request: HttpRequest) -> HttpResponse:
    """List the pairs and sets in stock; search by tag, drawer or compound."""
    found = PartSet.objects.together()
    for word in as_tag(request.GET.get("q", "")).split():
        found = found.filter(
            Q(tag__istartswith=word)
            | Q(drawer__icontains=word)
            | Q(members__part__tag__istartswith=word)
            | Q(members__part__tyre__compound__icontains=word)
        )
    page = Paginator(found.distinct().order_by("tag"), ROWS_A_PAGE).get_page(
        request.GET.get("page")
    )
    return render(
        request,
        "inventory/pairs.html",
        {
            "page": page,
            "sets": load_sets(page.object_list),
            "q": request.GET.get("q", ""),
            "query": kept_query(request),
        },
    )


@require_GET
@allow(ANYONE_SIGNED_IN)
def pair(request: HttpRequest, tag: str) -> HttpResponse:
    """Show one pair or set."""
    return _page(request, _set_of(tag))


@require_POST
@allow(KEEPERS)
def split(request: HttpRequest, tag: str) -> HttpResponse:
    """Split a pair, with a reason."""
    found, form = _set_of(tag), SplitForm(request.POST)
    if not form.is_valid():
        return _page(request, found, split_form=form)
    reason = form.cleaned_data["reason"]
    return _do(
        request, tag, lambda: split_set(found, reason=reason, act=act_of(request))
    )


@require_POST
@allow(KEEPERS)
def hand_out(request: HttpRequest, tag: str) -> HttpResponse:
    """Hand a pair out to somebody."""
    found, form = _set_of(tag), HandOutForm(request.POST)
    if not form.is_valid():
        return _page(request, found, hand_out_form=form)
    said = form.cleaned_data
    return _do(
        request,
        tag,
        lambda: hand_out_set(
            found, said["to_person"], note=said["note"], act=act_of(request)
        ),
    )


@require_POST
@allow(KEEPERS)
def take_back(request: HttpRequest, tag: str) -> HttpResponse:
    """Take a pair back into its drawer."""
    found = _set_of(tag)
    return _do(request, tag, lambda: take_back_set(found, act=act_of(request)))


@require_GET
@allow(ANYONE_SIGNED_IN)
def labels(request: HttpRequest) -> HttpResponse:
    """Print bag labels: of one confirmation, or of the pairs that are named."""
    found: QuerySet[PartSet] = PartSet.objects.together()
    pairing_id = request.GET.get("pairing", "")
    if pairing_id.isdecimal() and len(pairing_id) <= 18:
        found = found.filter(pairing=int(pairing_id))
    else:
        found = found.filter(tag__in=request.GET.getlist("tag")[:LABELS_A_PAGE])
    page = Paginator(found.order_by("pk"), LABELS_A_PAGE).get_page(
        request.GET.get("page")
    )
    made = [_label(request, one) for one in load_sets(page.object_list)]
    return render(
        request,
        "inventory/pair_labels.html",
        {
            "labels": [mark_safe(draw_label(one)) for one in made],  # noqa: S308
            "page": page,
            "query": kept_query(request),
        },
    )


def _set_of(tag: str) -> PartSet:
    return get_object_or_404(
        PartSet.objects.select_related("pairing__batch", "pairing__by"), tag=tag
    )


def _do(request: HttpRequest, tag: str, action: Callable[[], None]) -> HttpResponse:
    try:
        action()
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
    return redirect("inventory:pair", tag=tag)


def _page(request: HttpRequest, found: PartSet, **bound: object) -> HttpResponse:
    (loaded,) = load_sets([found])
    states = {one.state for one in loaded.parts}
    context = {
        "set": found,
        "loaded": loaded,
        "all_in": states == {PartState.IN_STOCK},
        "some_out": PartState.FITTED in states,
        "split_form": SplitForm(),
        "hand_out_form": HandOutForm(),
    }
    status = 422 if bound else 200
    return render(request, "inventory/pair.html", context | bound, status=status)


def _label(request: HttpRequest, loaded: LoadedSet) -> Label:
    found = loaded.part_set
    address = request.build_absolute_uri(reverse("inventory:pair", args=[found.tag]))
    lines = [loaded.sizes_text, loaded.spread_text, found.drawer]
    heading = loaded.facts or (
        _("pair") if found.kind == PartKind.TYRE else _("motors")
    )
    return Label(
        tag=found.tag,
        address=address,
        heading=heading,
        lines=[line for line in lines if line],
    )
