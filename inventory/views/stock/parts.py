"""Parts: search, one part with its readings and moves, labels."""

from collections.abc import Callable
from dataclasses import replace
from urllib.parse import urlencode

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.db.models import F
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory.access import allow, signed_in
from inventory.actions.readings import receive_measured, record_part_readings
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import (
    hand_out_part,
    may_keep,
    release_part,
    reserve_part,
    retire_part,
    share_part,
)
from inventory.compute.numbers import Unit
from inventory.compute.roles import Ability
from inventory.compute.stock import PartKind
from inventory.drawing.labels import Label, draw_label
from inventory.forms.corrections import CorrectPartForm, ReasonForm, StrikeForm
from inventory.forms.stock import (
    MeasurePartForm,
    MovePartForm,
    NewPartForm,
    OwnSpareForm,
    PartSearchForm,
    as_tag,
    facts_typed,
)
from inventory.forms.taking_back import take_back_form
from inventory.loaders.gauges import load_gauges
from inventory.loaders.parts import (
    PartSearch,
    counted_readings,
    deciding_text,
    facts_text,
    find_parts,
    parts_open_to,
    size_text,
)
from inventory.models import Part, PartSet
from inventory.views.acts import act_of, form_page, refusals_told
from inventory.views.addresses import is_only_here, printed_address

ROWS_A_PAGE = 50
SETS_A_PAGE, MOVES_A_PAGE = 30, 30
CHANGES_SHOWN = 100
MOST_LABELS = 200


@require_GET
@allow(Ability.LOOK)
def parts(request: HttpRequest) -> HttpResponse:
    """Search the parts; a page of rows at a time."""
    form = PartSearchForm(request.GET)
    parts = find_parts(form.search(signed_in(request))).listed_for(signed_in(request))
    page = Paginator(parts, ROWS_A_PAGE).get_page(request.GET.get("page"))
    rows = [(part, facts_text(part), size_text(part)) for part in page]
    return render(
        request,
        "inventory/stock/parts.html",
        {
            "form": form,
            "page": page,
            "rows": rows,
            "query": kept_query(request),
            "kinds": list(PartKind),
        },
    )


@require_GET
@allow(Ability.LOOK)
def part(request: HttpRequest, tag: str) -> HttpResponse:
    """Show one part: what it is, its sizes now, its readings and moves."""
    return part_page(request, part_of(request, tag))


@require_http_methods(["GET", "POST"])
@allow(Ability.KEEP_PARTS)
def new_part(request: HttpRequest, kind: str) -> HttpResponse:
    """Take a part into stock."""
    if kind not in list(PartKind):
        msg = f"“{kind}” is no kind of part."
        raise Http404(msg)
    act = act_of(request)
    like = Part.objects.filter(tag=request.GET.get("like", ""), kind=kind).first()
    form = NewPartForm(
        request.POST or None,
        kind=PartKind(kind),
        gauges=load_gauges(act.at, unit=Unit.MILLIMETRE),
        initial=facts_typed(like) if like else None,
    )
    if form.is_valid():
        with form.refusing():
            made = receive_measured(
                form.new_part(), form.typed_sizes, count=form.chosen_count, act=act
            )
            return _made(request, made)
    return form_page(
        request,
        form,
        "inventory/stock/new_part.html",
        {"kind": kind, "kinds": list(PartKind)},
    )


def _made(request: HttpRequest, made: list[Part]) -> HttpResponse:
    """Go on to the part that came in, to its labels, or to another like it."""
    first = made[0]
    if request.POST.get("then") == "another":
        messages.success(request, _("Tags: %s.") % ", ".join(one.tag for one in made))
        address = reverse("inventory:new_part", args=[first.kind])
        return redirect(f"{address}?{urlencode({'like': first.tag})}")
    if len(made) == 1:
        return redirect("inventory:part", tag=first.tag)
    tags = urlencode([("tag", one.tag) for one in made])
    return redirect(f"{reverse('inventory:labels')}?{tags}")


@require_POST
@allow(Ability.RESERVE_PARTS)
def reserve(request: HttpRequest, tag: str) -> HttpResponse:
    """Reserve a part for oneself."""
    return _do(request, tag, lambda one: reserve_part(one, act=act_of(request)))


@require_POST
@allow(Ability.RESERVE_PARTS)
def release(request: HttpRequest, tag: str) -> HttpResponse:
    """Give up a reservation."""
    return _do(request, tag, lambda one: release_part(one, act=act_of(request)))


@require_POST
@allow(Ability.LOOK)
def share(request: HttpRequest, tag: str) -> HttpResponse:
    """Show an own part to everybody, or to its owner alone."""
    is_shared = request.POST.get("shared") == "yes"
    return _do(
        request,
        tag,
        lambda one: share_part(one, is_shared=is_shared, act=act_of(request)),
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
def new_spare(request: HttpRequest, kind: str) -> HttpResponse:
    """Take a spare of one's own in, beside the club's."""
    if kind not in list(PartKind):
        msg = f"“{kind}” is no kind of part."
        raise Http404(msg)
    act = act_of(request)
    form = OwnSpareForm(
        request.POST or None,
        kind=PartKind(kind),
        gauges=load_gauges(act.at, unit=Unit.MILLIMETRE),
    )
    if form.is_valid():
        new = replace(
            form.new_part(), owner=act.by, is_shared=form.cleaned_data["shared"]
        )
        with form.refusing():
            (made, *_more) = receive_measured(
                new, form.typed_sizes, count=form.chosen_count, act=act
            )
            return redirect("inventory:part", tag=made.tag)
    return form_page(
        request,
        form,
        "inventory/stock/new_spare.html",
        {"kind": kind, "kinds": list(PartKind)},
    )


@require_POST
@allow(Ability.KEEP_PARTS)
def hand_out(request: HttpRequest, tag: str) -> HttpResponse:
    """Hand a part out to somebody."""
    one, form = part_of(request, tag), MovePartForm(request.POST)
    form.fields["to_person"].required = True
    if not form.is_valid():
        return part_page(request, one, move_form=form)
    try:
        hand_out_part(
            one,
            form.cleaned_data["to_person"],
            note=form.cleaned_data["note"],
            act=act_of(request),
        )
    except RefusedError as refusal:
        form.refuse(refusal)
        return part_page(request, one, move_form=form)
    return redirect("inventory:part", tag=tag)


@require_POST
@allow(Ability.LOOK)
def retire(request: HttpRequest, tag: str) -> HttpResponse:
    """Take a part out of use, with a reason."""
    reason = request.POST.get("note", "")[:200]
    _kept_part(request, tag)
    return _do(
        request, tag, lambda one: retire_part(one, reason=reason, act=act_of(request))
    )


@require_POST
@allow(Ability.LOOK)
def measure(request: HttpRequest, tag: str) -> HttpResponse:
    """Record a set of readings of a part."""
    one, act = _kept_part(request, tag), act_of(request)
    form = MeasurePartForm(request.POST, gauges=load_gauges(act.at), kind=one.kind)
    if not form.is_valid():
        return part_page(request, one, measure_form=form)
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
        return part_page(request, one, measure_form=form)
    return redirect("inventory:part", tag=tag)


@require_GET
@allow(Ability.LOOK)
def labels(request: HttpRequest) -> HttpResponse:
    """Print labels for the parts ticked, or for drawers named."""
    person = signed_in(request)
    tags = request.GET.getlist("tag")[:MOST_LABELS]
    drawers = [name for name in request.GET.getlist("drawer") if name][:MOST_LABELS]
    part_by_tag = {
        one.tag: one
        for one in find_parts(PartSearch()).listed_for(person).filter(tag__in=tags)
    }
    made = [
        _part_label(request, part_by_tag[tag]) for tag in tags if tag in part_by_tag
    ]
    made += [_drawer_label(request, name) for name in drawers]
    return render(
        request,
        "inventory/stock/labels.html",
        {
            "labels": [mark_safe(draw_label(one)) for one in made],  # noqa: S308
            "is_only_here": is_only_here(printed_address(request, "")),
        },
    )


def kept_query(request: HttpRequest) -> str:
    """Give the query that the links to other pages of a list keep."""
    query = request.GET.copy()
    query.pop("page", None)
    return f"{query.urlencode()}&" if query else ""


def part_of(request: HttpRequest, tag: str) -> Part:
    """Give the part of a tag, in small letters too, if it is there for this person."""
    parts = parts_open_to(signed_in(request))
    part = parts.filter(tag=tag).first()
    if part is not None:
        return part
    # Two tags may differ by their letters' size alone: then neither is meant.
    alike = list(parts.filter(tag__iexact=as_tag(tag))[:2])
    if len(alike) != 1:
        msg = f"No part has the tag “{tag}”."
        raise Http404(msg)
    return alike[0]


def _kept_part(request: HttpRequest, tag: str) -> Part:
    """Give a part that this person keeps: their own, or as the keeper any."""
    one = part_of(request, tag)
    if not may_keep(one, signed_in(request)):
        raise PermissionDenied
    return one


def _do(request: HttpRequest, tag: str, action: Callable[[Part], None]) -> HttpResponse:
    with refusals_told(request):
        action(part_of(request, tag))
    return redirect("inventory:part", tag=tag)


def part_page(request: HttpRequest, one: Part, **forms: object) -> HttpResponse:
    """Show a part; a form that was refused stands there as it was sent."""
    act = act_of(request)
    kept = {
        "move_form": MovePartForm(),
        "correct_form": CorrectPartForm(part=one),
        "back_form": take_back_form(None, [one], load_gauges(act.at)),
        "strike_form": StrikeForm(readings=counted_readings(one)),
        "restore_form": ReasonForm(),
        "measure_form": MeasurePartForm(gauges=load_gauges(act.at), kind=one.kind),
    }
    # What is current comes first, then what was before, the last of it first.
    estimates = one.estimates.select_related("by", "gauge_mode__gauge").order_by(
        F("superseded_at").desc(nulls_first=True), "quantity", "-id"
    )
    moves = one.moves.select_related("by", "to_person").order_by("-id")
    context = {
        "part": one,
        "facts": facts_text(one),
        "estimates": Paginator(
            estimates.prefetch_related("readings__strike__by"), SETS_A_PAGE
        ).get_page(request.GET.get("sets")),
        "moves": Paginator(moves, MOVES_A_PAGE).get_page(request.GET.get("moves")),
        "changes": one.changes.select_related("by")[:CHANGES_SHOWN],
        "is_mine": one.holder_id == act.by.pk,
        "is_own": one.owner_id == act.by.pk,
        "may_keep": may_keep(one, act.by),
        "in_set": PartSet.objects.together().filter(members__part=one).first(),
    }
    status = 422 if forms else 200
    return render(
        request, "inventory/stock/part.html", context | kept | forms, status=status
    )


def _part_label(request: HttpRequest, one: Part) -> Label:
    address = printed_address(request, reverse("inventory:part", args=[one.tag]))
    lines = [size_text(one), one.name, one.drawer]
    return Label(
        tag=one.tag,
        address=address,
        figure=deciding_text(one),
        heading=facts_text(one, under_deciding=True) or one.kind,
        lines=[line for line in lines if line],
    )


def _drawer_label(request: HttpRequest, name: str) -> Label:
    address = printed_address(request, reverse("inventory:parts")) + f"?q={name}"
    return Label(tag=name, address=address, heading="Drawer")
