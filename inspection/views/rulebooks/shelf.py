"""Rulebooks: what is on the shelf, and starting a rulebook, a class, a draft."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.actions.drafts import copy_edition, start_draft
from inspection.actions.rulebooks import add_race_class
from inspection.forms.rulebooks.rulebooks import ClassForm, NewRulebookForm
from inspection.loaders.rulebooks.shelf import load_rulebooks
from inspection.models import Edition, Rulebook
from inspection.views.rulebooks.decision_rules import decision_rules
from inspection.views.rulebooks.editions import posted
from inventory.access import allow
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page


@require_GET
@allow(Ability.LOOK)
def rulebooks(request: HttpRequest) -> HttpResponse:
    """List every rulebook with its classes and editions."""
    return render(
        request,
        "inspection/rulebooks/rulebooks.html",
        {"shelf": load_rulebooks(), "class_form": ClassForm()},
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.WRITE_RULEBOOKS)
def new_rulebook(request: HttpRequest) -> HttpResponse:
    """Begin a rulebook with an edition that has no rule yet."""
    form = NewRulebookForm(posted(request))
    if form.is_valid():
        with form.refusing():
            edition = start_draft(
                form.cleaned_data["name"], form.facts(), act=act_of(request)
            )
            return redirect("inspection:edition", edition_id=edition.pk)
    return form_page(
        request,
        form,
        "inspection/rulebooks/edition_settings.html",
        {"decision_rules": decision_rules()},
    )


@require_POST
@allow(Ability.WRITE_RULEBOOKS)
def add_class(request: HttpRequest, rulebook_id: int) -> HttpResponse:
    """Add a class that races by a rulebook."""
    rulebook = get_object_or_404(Rulebook, pk=rulebook_id)
    form = ClassForm(request.POST)
    if form.is_valid():
        with form.refusing():
            add_race_class(
                form.cleaned_data["name"],
                rulebook_name=rulebook.name,
                act=act_of(request),
            )
            return redirect("inspection:rulebooks")
    context = {"shelf": load_rulebooks(), "class_form": form, "refused": rulebook}
    return render(request, "inspection/rulebooks/rulebooks.html", context, status=422)


@require_POST
@allow(Ability.WRITE_RULEBOOKS)
def new_draft(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Start the next edition from one that is here."""
    get_object_or_404(Edition, pk=edition_id)
    try:
        edition = copy_edition(edition_id, act=act_of(request))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inspection:edition", edition_id=edition_id)
    return redirect("inspection:edition", edition_id=edition.pk)
