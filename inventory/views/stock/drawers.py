"""Drawers: what lies in which, many parts laid into another at once."""

from collections.abc import Iterable
from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods

from inventory.access import allow, signed_in
from inventory.actions.drawers.laying import lay_parts
from inventory.compute.roles import Ability
from inventory.files.exports import ExportTable
from inventory.forms.drawers import LayForm
from inventory.loaders.drawers import load_drawers
from inventory.loaders.parts import PartSearch, facts_text, find_parts, size_text
from inventory.models import Part, Stocktake
from inventory.views.acts import act_of, form_page
from inventory.views.sent import export_form, sent_tables
from inventory.views.stock.parts import kept_query

ROWS_A_PAGE, DRAWERS_A_PAGE, TAKES_SHOWN = 200, 100, 20


@require_GET
@allow(Ability.LOOK)
def drawers(request: HttpRequest) -> HttpResponse:
    """List the drawers, each with what lies in it and when it was counted."""
    words = request.GET.get("q", "")
    page = Paginator(load_drawers(words), DRAWERS_A_PAGE).get_page(
        request.GET.get("page")
    )
    return render(
        request,
        "inventory/stock/drawers.html",
        {"page": page, "q": words, "query": kept_query(request)},
    )


@require_GET
@allow(Ability.LOOK)
def export_drawers(request: HttpRequest, form: str) -> HttpResponse:
    """Give the drawers that a search finds as a file."""
    table = ExportTable(
        name="drawers",
        headings=("drawer", "parts in it", "parts away", "counted on"),
        rows=[
            (
                one.name,
                one.lies,
                one.away,
                one.counted_at.date().isoformat() if one.counted_at else "",
            )
            for one in load_drawers(request.GET.get("q", ""))
        ],
    )
    return sent_tables(request, [table], export_form(form), "drawers")


@require_GET
@allow(Ability.LOOK)
def drawer(request: HttpRequest) -> HttpResponse:
    """Show one drawer: its parts, and how it was counted."""
    name = request.GET.get("drawer", "")[:40]
    parts = find_parts(PartSearch()).listed_for(signed_in(request)).filter(drawer=name)
    page = Paginator(parts, ROWS_A_PAGE).get_page(request.GET.get("page"))
    takes = Stocktake.objects.filter(drawer=name).select_related("by")
    return render(
        request,
        "inventory/stock/drawer.html",
        {
            "drawer": name,
            "page": page,
            "rows": _rows(page),
            "takes": takes[:TAKES_SHOWN],
            "open": takes.filter(closed_at=None).first(),
            "query": kept_query(request),
            "asked": urlencode({"drawer": name}),
        },
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.KEEP_PARTS)
def lay(request: HttpRequest) -> HttpResponse:
    """Lay the parts ticked into another drawer."""
    sent = request.POST or request.GET
    tags = list(dict.fromkeys(sent.getlist("tag")))
    form = LayForm(request.POST or None)
    if form.is_valid():
        place = form.cleaned_data["drawer"]
        with form.refusing():
            count = lay_parts(tags, place, act=act_of(request))
            laid = ngettext(
                "%(count)s part lies in drawer %(drawer)s.",
                "%(count)s parts lie in drawer %(drawer)s.",
                count,
            )
            messages.success(request, laid % {"count": count, "drawer": place})
            query = urlencode({"drawer": place})
            return redirect(f"{reverse('inventory:drawer')}?{query}")
    parts = find_parts(PartSearch()).of_the_club().filter(tag__in=tags)
    return form_page(
        request,
        form,
        "inventory/stock/lay_parts.html",
        {"rows": _rows(parts), "title": _("Lay into another drawer")},
    )


def _rows(parts: Iterable[Part]) -> list[tuple[Part, str, str]]:
    return [(one, facts_text(one), size_text(one)) for one in parts]
