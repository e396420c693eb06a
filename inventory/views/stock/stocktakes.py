"""Stocktakes: a drawer's list to tick, and the difference as a record."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_POST

from inventory.access import allow
from inventory.actions.drawers.stocktakes import (
    close_stocktake,
    drop_stocktake,
    lay_surplus,
    start_stocktake,
    tick_parts,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.compute.stock import Counted
from inventory.files.exports import ExportTable
from inventory.forms.drawers import StartForm, SurplusForm
from inventory.loaders.drawers import count_lines, expected_in
from inventory.loaders.parts import PartSearch, facts_text, find_parts, size_text
from inventory.models import Stocktake
from inventory.views.acts import act_of, refusals_told
from inventory.views.sent import export_form, sent_tables


@require_POST
@allow(Ability.KEEP_PARTS)
def start(request: HttpRequest) -> HttpResponse:
    """Start to count a drawer."""
    form = StartForm(request.POST)
    if not form.is_valid():
        messages.error(request, " ".join(map(str, form.errors["drawer"])))
        return redirect("inventory:drawers")
    try:
        made = start_stocktake(form.cleaned_data["drawer"], act=act_of(request))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inventory:drawers")
    return redirect("inventory:stocktake", stocktake_id=made.pk)


@require_GET
@allow(Ability.LOOK)
def stocktake(request: HttpRequest, stocktake_id: int) -> HttpResponse:
    """Show the list to tick, or what a closed stocktake says."""
    return _page(request, _found(stocktake_id))


@require_POST
@allow(Ability.KEEP_PARTS)
def tick(request: HttpRequest, stocktake_id: int) -> HttpResponse:
    """Keep what was ticked, and what else lies in the drawer."""
    stocktake, form = _found(stocktake_id), SurplusForm(request.POST)
    if not form.is_valid():
        return _page(request, stocktake, form=form)
    there = set(request.POST.getlist("there"))
    was = set(request.POST.getlist("was"))
    act = act_of(request)
    with refusals_told(request):
        tick_parts(
            stocktake,
            there=[*(there - was), *form.cleaned_data["tags"].split()],
            not_there=was - there,
            act=act,
        )
        if "close" in request.POST:
            close_stocktake(stocktake, act=act)
    return redirect("inventory:stocktake", stocktake_id=stocktake.pk)


@require_POST
@allow(Ability.KEEP_PARTS)
def drop(request: HttpRequest, stocktake_id: int) -> HttpResponse:
    """Give a stocktake up."""
    stocktake = _found(stocktake_id)
    return _done(
        request,
        lambda: drop_stocktake(stocktake, act=act_of(request)),
        redirect("inventory:drawers"),
    )


@require_POST
@allow(Ability.KEEP_PARTS)
def lay(request: HttpRequest, stocktake_id: int) -> HttpResponse:
    """Let the stock say that the surplus lies where it was found."""
    stocktake = _found(stocktake_id)

    def laid() -> None:
        count = lay_surplus(stocktake, act=act_of(request))
        sentence = ngettext(
            "%(count)s part lies in drawer %(drawer)s.",
            "%(count)s parts lie in drawer %(drawer)s.",
            count,
        )
        messages.success(
            request, sentence % {"count": count, "drawer": stocktake.drawer}
        )

    return _done(
        request, laid, redirect("inventory:stocktake", stocktake_id=stocktake.pk)
    )


@require_GET
@allow(Ability.LOOK)
def export(request: HttpRequest, stocktake_id: int, form: str) -> HttpResponse:
    """Give what a closed stocktake says as a file."""
    stocktake = _found(stocktake_id)
    table = ExportTable(
        name="stocktake",
        headings=("tag", "counted", "drawer in the stock", "state in the stock"),
        rows=[
            (one.tag, one.counted, one.drawer, one.state)
            for one in stocktake.lines.all()
        ],
    )
    return sent_tables(request, [table], export_form(form), f"stocktake-{stocktake_id}")


def _found(stocktake_id: int) -> Stocktake:
    return get_object_or_404(
        Stocktake.objects.select_related("by", "closed_by"), pk=stocktake_id
    )


def _done(
    request: HttpRequest, action: Callable[[], object], then: HttpResponse
) -> HttpResponse:
    with refusals_told(request):
        action()
    return then


def _page(
    request: HttpRequest, stocktake: Stocktake, *, form: SurplusForm | None = None
) -> HttpResponse:
    context: dict[str, object] = {"take": stocktake}
    if stocktake.closed_at is None:
        ticks = {one.tag: one for one in stocktake.ticks.select_related("part")}
        expected = find_parts(PartSearch()).filter(pk__in=expected_in(stocktake.drawer))
        rows = [
            (one, facts_text(one), size_text(one), one.tag in ticks) for one in expected
        ]
        known = {one.tag for one, *_ in rows}
        context |= {
            "form": form or SurplusForm(),
            "rows": rows,
            "left": sum(not is_there for *_, is_there in rows),
            "surplus": [one for tag, one in ticks.items() if tag not in known],
        }
    else:
        lines = list(stocktake.lines.select_related("part"))
        context |= {
            "counts": count_lines(stocktake),
            "missing": [one for one in lines if one.counted == Counted.MISSING],
            "surplus": [one for one in lines if one.counted == Counted.SURPLUS],
            "found": [one for one in lines if one.counted == Counted.FOUND],
        }
    status = 422 if form is not None else 200
    return render(request, "inventory/stock/stocktake.html", context, status=status)
