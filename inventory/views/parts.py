"""Parts: search, one part with its readings and moves, labels."""

from collections.abc import Callable

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory.access import ANYONE_SIGNED_IN, KEEPERS, RESERVERS, allow, signed_in
from inventory.actions.readings import record_part_readings
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import (
    correct_part,
    hand_out_part,
    receive_part,
    release_part,
    reserve_part,
    retire_part,
    take_back_part,
)
from inventory.compute.stock import PartKind
from inventory.drawing.labels import Label, draw_label
from inventory.forms.parts import (
    NEW_PART_FORMS,
    CorrectPartForm,
    MeasurePartForm,
    MovePartForm,
    PartSearchForm,
)
from inventory.loaders.gauges import load_gauges
from inventory.loaders.parts import PartSearch, facts_text, find_parts, size_text
from inventory.models import Part, PartSet
from inventory.views.acts import act_of

ROWS_A_PAGE = 50
MOST_LABELS = 200


@require_GET
@allow(ANYONE_SIGNED_IN)
def parts(request: HttpRequest) -> HttpResponse:
    """Search the parts; a page of rows at a time."""
    form = PartSearchForm(request.GET)
    found = find_parts(form.search(signed_in(request)))
    page = Paginator(found, ROWS_A_PAGE).get_page(request.GET.get("page"))
    rows = [(part, facts_text(part), size_text(part)) for part in page]
    return render(
        request,
        "inventory/parts.html",
        {"form": form, "page": page, "rows": rows, "query": kept_query(request)},
    )


@require_GET
@allow(ANYONE_SIGNED_IN)
def part(request: HttpRequest, tag: str) -> HttpResponse:
    """Show one part: what it is, its sizes now, its readings and moves."""
    return _page(request, part_of(tag))


@require_http_methods(["GET", "POST"])
@allow(KEEPERS)
def new_part(request: HttpRequest, kind: str) -> HttpResponse:
    """Take a part into stock."""
    if kind not in list(PartKind):
        msg = f"“{kind}” is no kind of part."
        raise Http404(msg)
    form = NEW_PART_FORMS[PartKind(kind)](request.POST or None)
    if form.is_valid():
        try:
            made = receive_part(form.new_part(), act=act_of(request))
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inventory:part", tag=made.tag)
    return render(
        request,
        "inventory/new_part.html",
        {"form": form, "kind": kind, "kinds": list(PartKind)},
        status=422 if form.errors else 200,
    )


@require_POST
@allow(RESERVERS)
def reserve(request: HttpRequest, tag: str) -> HttpResponse:
    """Reserve a part for oneself."""
    return _do(request, tag, lambda one: reserve_part(one, act=act_of(request)))


@require_POST
@allow(RESERVERS)
def release(request: HttpRequest, tag: str) -> HttpResponse:
    """Give up a reservation."""
    return _do(request, tag, lambda one: release_part(one, act=act_of(request)))


@require_POST
@allow(KEEPERS)
def hand_out(request: HttpRequest, tag: str) -> HttpResponse:
    """Hand a part out to somebody."""
    one, form = part_of(tag), MovePartForm(request.POST)
    form.fields["to_person"].required = True
    if not form.is_valid():
        return _page(request, one, move_form=form)
    try:
        hand_out_part(
            one,
            form.cleaned_data["to_person"],
            note=form.cleaned_data["note"],
            act=act_of(request),
        )
    except RefusedError as refusal:
        form.refuse(refusal)
        return _page(request, one, move_form=form)
    return redirect("inventory:part", tag=tag)


@require_POST
@allow(KEEPERS)
def take_back(request: HttpRequest, tag: str) -> HttpResponse:
    """Take a part back into its drawer."""
    note = request.POST.get("note", "")[:200]
    return _do(
        request, tag, lambda one: take_back_part(one, note=note, act=act_of(request))
    )


@require_POST
@allow(KEEPERS)
def retire(request: HttpRequest, tag: str) -> HttpResponse:
    """Take a part out of use, with a reason."""
    reason = request.POST.get("note", "")[:200]
    return _do(
        request, tag, lambda one: retire_part(one, reason=reason, act=act_of(request))
    )


@require_POST
@allow(KEEPERS)
def correct(request: HttpRequest, tag: str) -> HttpResponse:
    """Correct a part's name or drawer."""
    one, form = part_of(tag), CorrectPartForm(request.POST)
    if not form.is_valid():
        return _page(request, one, correct_form=form)
    try:
        correct_part(one, form.said(), act=act_of(request))
    except RefusedError as refusal:
        form.refuse(refusal)
        return _page(request, one, correct_form=form)
    return redirect("inventory:part", tag=tag)


@require_POST
@allow(KEEPERS)
def measure(request: HttpRequest, tag: str) -> HttpResponse:
    """Record a set of readings of a part."""
    one, act = part_of(tag), act_of(request)
    form = MeasurePartForm(
        request.POST, gauges=load_gauges(act.at), kind=PartKind(one.kind)
    )
    if not form.is_valid():
        return _page(request, one, measure_form=form)
    try:
        record_part_readings(
            one,
            form.chosen_quantity,
            form.cleaned_data["texts"].split(),
            gauge=form.chosen_gauge,
            act=act,
        )
    except RefusedError as refusal:
        form.refuse(refusal)
        return _page(request, one, measure_form=form)
    return redirect("inventory:part", tag=tag)


@require_GET
@allow(ANYONE_SIGNED_IN)
def labels(request: HttpRequest) -> HttpResponse:
    """Print labels for the parts ticked, or for drawers named."""
    tags = request.GET.getlist("tag")[:MOST_LABELS]
    drawers = [name for name in request.GET.getlist("drawer") if name][:MOST_LABELS]
    found = {one.tag: one for one in find_parts(PartSearch()).filter(tag__in=tags)}
    made = [_part_label(request, found[tag]) for tag in tags if tag in found]
    made += [_drawer_label(request, name) for name in drawers]
    return render(
        request,
        "inventory/labels.html",
        {"labels": [mark_safe(draw_label(one)) for one in made]},  # noqa: S308
    )


def kept_query(request: HttpRequest) -> str:
    """Give the query that the links to other pages of a list keep."""
    query = request.GET.copy()
    query.pop("page", None)
    return f"{query.urlencode()}&" if query else ""


def part_of(tag: str) -> Part:
    """Give the part of a tag, or 404."""
    return get_object_or_404(
        Part.objects.select_related("tyre", "gear", "motor", "owner", "holder"), tag=tag
    )


def _do(request: HttpRequest, tag: str, action: Callable[[Part], None]) -> HttpResponse:
    try:
        action(part_of(tag))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
    return redirect("inventory:part", tag=tag)


def _page(request: HttpRequest, one: Part, **forms: object) -> HttpResponse:
    act = act_of(request)
    kept = {
        "move_form": MovePartForm(),
        "correct_form": CorrectPartForm(
            initial={"name": one.name, "drawer": one.drawer, "version": one.version}
        ),
        "measure_form": MeasurePartForm(
            gauges=load_gauges(act.at), kind=PartKind(one.kind)
        ),
    }
    estimates = one.estimates.select_related("by", "gauge_mode__gauge").order_by(
        "quantity", "-taken_at", "-id"
    )
    context = {
        "part": one,
        "facts": facts_text(one),
        "estimates": estimates.prefetch_related("readings"),
        "moves": one.moves.select_related("by", "to_person").order_by("-id"),
        "is_mine": one.holder_id == act.by.pk,
        "in_set": PartSet.objects.together().filter(members__part=one).first(),
    }
    status = 422 if forms else 200
    return render(request, "inventory/part.html", context | kept | forms, status=status)


def _part_label(request: HttpRequest, one: Part) -> Label:
    address = request.build_absolute_uri(reverse("inventory:part", args=[one.tag]))
    lines = [size_text(one), one.name, one.drawer]
    return Label(
        tag=one.tag,
        address=address,
        heading=facts_text(one) or one.kind,
        lines=[line for line in lines if line],
    )


def _drawer_label(request: HttpRequest, name: str) -> Label:
    address = request.build_absolute_uri(reverse("inventory:parts")) + f"?q={name}"
    return Label(tag=name, address=address, heading="Drawer")
