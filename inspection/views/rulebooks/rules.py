"""The rules of a draft: writing one, moving it, taking it out."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.actions.drafts import (
    Rewrite,
    Way,
    move_rule,
    remove_rule,
    write_rule,
)
from inspection.compute.quantities import QUANTITIES, Quantity
from inspection.compute.rulebooks import RuleText
from inspection.drawing.where_to_measure import draw_where_to_measure
from inspection.files.rulebooks import rule_checksum
from inspection.forms.rulebooks.rulebooks import RuleForm
from inspection.loaders.rulebooks.editions import rule_text
from inspection.models import Edition, Rule
from inspection.views.rulebooks.editions import edition_or_404
from inspection.words.quantities import how_taken, quantity_name
from inventory.access import allow
from inventory.actions.audit import Act
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page, refusals_told


def quantity_context(quantity: Quantity | None) -> dict[str, object]:
    """Give what a page shows of a quantity: where and how it is measured."""
    if quantity is None:
        return {"quantity": None}
    svg = draw_where_to_measure(
        quantity.picture,
        column=quantity.columns[0],
        label=quantity_name(quantity),
        how=how_taken(quantity),
    )
    return {"quantity": quantity, "picture": mark_safe(svg)}  # noqa: S308


@require_GET
@allow(Ability.LOOK)
def quantity(request: HttpRequest) -> HttpResponse:
    """Show where and how a quantity is measured; a piece of a page."""
    chosen = QUANTITIES.get(request.GET.get("quantity", ""))
    return render(
        request, "inspection/rulebooks/pieces/quantity.html", quantity_context(chosen)
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.WRITE_RULEBOOKS)
def new_rule(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Add a rule to a draft."""
    edition = edition_or_404(edition_id)
    form = _form(request, edition, None)
    return _written(request, edition, form, None)


@require_http_methods(["GET", "POST"])
@allow(Ability.WRITE_RULEBOOKS)
def rule(request: HttpRequest, rule_id: int) -> HttpResponse:
    """Write one of a draft's rules anew."""
    rule = rule_or_404(rule_id)
    form = _form(request, rule.edition, rule_text(rule))
    return _written(request, rule.edition, form, rule)


@require_POST
@allow(Ability.WRITE_RULEBOOKS)
def move(request: HttpRequest, rule_id: int) -> HttpResponse:
    """Let a rule change places with its neighbour."""
    way = Way.UP if request.POST.get("way") == Way.UP else Way.DOWN

    def moves(edition_id: int, act: Act) -> None:
        move_rule(edition_id, rule_id, way, act=act)

    return _do(request, rule_id, moves)


@require_POST
@allow(Ability.WRITE_RULEBOOKS)
def remove(request: HttpRequest, rule_id: int) -> HttpResponse:
    """Take a rule out of a draft."""

    def removes(edition_id: int, act: Act) -> None:
        remove_rule(edition_id, rule_id, act=act)

    return _do(request, rule_id, removes)


def rule_or_404(rule_id: int) -> Rule:
    """Give a rule with its edition."""
    return get_object_or_404(
        Rule.objects.select_related("edition__rulebook"), pk=rule_id
    )


def _do(
    request: HttpRequest, rule_id: int, action: Callable[[int, Act], None]
) -> HttpResponse:
    edition_id = rule_or_404(rule_id).edition_id
    with refusals_told(request):
        action(edition_id, act_of(request))
    return redirect("inspection:edition", edition_id=edition_id)


def _form(request: HttpRequest, edition: Edition, rule: RuleText | None) -> RuleForm:
    if request.method == "POST" and "look" not in request.POST:
        return RuleForm(request.POST, rulebook=edition.rulebook, rule=rule)
    form = RuleForm(rulebook=edition.rulebook, rule=rule)
    if request.method == "POST":
        # Only a look at the quantity: nothing is checked, nothing typed is lost.
        form.keep_typed(request.POST)
    elif rule is not None:
        form.initial["seen"] = rule_checksum(rule)
    return form


def _written(
    request: HttpRequest, edition: Edition, form: RuleForm, rule: Rule | None
) -> HttpResponse:
    if form.is_bound and form.is_valid():
        seen = form.cleaned_data["seen"]
        rewrite = Rewrite(rule_id=rule.pk, seen=seen) if rule else None
        with form.refusing():
            write_rule(edition.pk, form.rule(), rewrite=rewrite, act=act_of(request))
            return redirect("inspection:edition", edition_id=edition.pk)
    context = {"edition": edition, "form": form, "rule": rule}
    return form_page(
        request,
        form,
        "inspection/rulebooks/rule.html",
        context | quantity_context(form.chosen_quantity),
    )
