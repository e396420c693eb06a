"""Who has what for how long, and what comes back at the counter."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inventory.access import allow
from inventory.actions.drawers.taking_back import hand_back_part, hand_back_set
from inventory.compute.roles import Ability
from inventory.files.exports import ExportTable
from inventory.forms.taking_back import take_back_form
from inventory.loaders.gauges import load_gauges
from inventory.loaders.lent import load_lent
from inventory.loaders.pairs import load_sets
from inventory.views.acts import act_of
from inventory.views.sent import export_form, sent_tables
from inventory.views.stock.pairs import pair_page, set_of
from inventory.views.stock.parts import kept_query, part_of, part_page

ROWS_A_PAGE = 100


@require_GET
@allow(Ability.LOOK)
def lent(request: HttpRequest) -> HttpResponse:
    """List who has what, and since when."""
    words = request.GET.get("q", "")
    page = Paginator(load_lent(timezone.now(), words), ROWS_A_PAGE).get_page(
        request.GET.get("page")
    )
    return render(
        request,
        "inventory/stock/lent.html",
        {"page": page, "q": words, "query": kept_query(request)},
    )


@require_GET
@allow(Ability.LOOK)
def export_lent(request: HttpRequest, form: str) -> HttpResponse:
    """Give what is out as a file, a part a row."""
    table = ExportTable(
        name="lent",
        headings=("who", "tag", "bag", "what", "state", "since", "days"),
        rows=[
            (
                one.who,
                part.tag,
                one.tag if one.is_set else "",
                one.facts,
                part.state,
                one.since.date().isoformat(),
                one.days,
            )
            for one in load_lent(timezone.now(), request.GET.get("q", ""))
            for part in one.parts
        ],
    )
    return sent_tables(request, [table], export_form(form), "lent")


@require_POST
@allow(Ability.KEEP_PARTS)
def take_back(request: HttpRequest, tag: str) -> HttpResponse:
    """Take a part back into its drawer, with the size that it has now."""
    one, act = part_of(request, tag), act_of(request)
    form = take_back_form(request.POST, [one], load_gauges(act.at))
    if form.is_valid():
        note = form.cleaned_data["note"]
        with form.refusing():
            hand_back_part(one, form.read(), note=note, act=act)
            return redirect("inventory:part", tag=one.tag)
    return part_page(request, one, back_form=form)


@require_POST
@allow(Ability.KEEP_PARTS)
def take_back_pair(request: HttpRequest, tag: str) -> HttpResponse:
    """Take a bag back into its drawer, with the sizes that its parts have now."""
    pair, act = set_of(tag), act_of(request)
    (loaded,) = load_sets([pair])
    form = take_back_form(request.POST, loaded.parts, load_gauges(act.at))
    if form.is_valid():
        with form.refusing():
            hand_back_set(pair, form.read(), act=act)
            return redirect("inventory:pair", tag=pair.tag)
    return pair_page(request, pair, back_form=form)
