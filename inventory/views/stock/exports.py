"""The lists of parts and of pairs as files, as they are filtered."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.compute.stock import PartKind
from inventory.forms.stock import PartSearchForm, as_tag
from inventory.forms.written.tables import parts_table, sets_table
from inventory.loaders.exported import load_held
from inventory.loaders.pairs import find_sets, load_sets
from inventory.loaders.parts import find_parts
from inventory.views.sent import export_form, sent_tables


@require_GET
@allow(Ability.LOOK)
def export_parts(request: HttpRequest, form: str) -> HttpResponse:
    """Give the parts that a search finds, a table for each kind among them."""
    wanted = export_form(form)
    person = signed_in(request)
    search = PartSearchForm(request.GET).search(person)
    parts = find_parts(search).listed_for(person)
    # Without its order: each would be another row of what is distinct.
    kinds = set(parts.order_by().values_list("kind", flat=True).distinct())
    tables = [
        parts_table(load_held(parts, kind), kind)
        for kind in PartKind
        if kind in kinds or (not kinds and kind is PartKind.TYRE)
    ]
    name = tables[0].name if len(tables) == 1 else "parts"
    return sent_tables(request, tables, wanted, name)


@require_GET
@allow(Ability.LOOK)
def export_sets(request: HttpRequest, form: str) -> HttpResponse:
    """Give the pairs and sets that a search finds, a part a row."""
    wanted = export_form(form)
    sets = find_sets(as_tag(request.GET.get("q", "")))
    return sent_tables(request, [sets_table(load_sets(sets))], wanted, "pairs")
