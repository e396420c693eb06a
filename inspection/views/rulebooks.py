"""Rulebooks: what is on the shelf, and starting a rulebook, a class, a draft."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.access import ANYONE_SIGNED_IN, CHIEF
from inspection.actions.drafts import copy_edition, start_draft
from inspection.actions.rulebooks import add_race_class
from inspection.forms.rulebooks import ClassForm, NewRulebookForm
from inspection.loaders.editions import load_rulebooks
from inspection.models import Edition, Rulebook
from inspection.views.decision_rules import decision_rules
from inspection.views.editions import posted
from inventory.access import allow
from inventory.actions.refusals import RefusedError
from inventory.views.acts import act_of


@require_GET
@allow(ANYONE_SIGNED_IN)
def rulebooks(request: HttpRequest) -> HttpResponse:
    """List every rulebook with its classes and editions."""
    return render(
        request,
        "inspection/rulebooks.html",
        {"shelf": load_rulebooks(), "class_form": ClassForm()},
    )


@require_http_methods(["GET", "POST"])
@allow(CHIEF)
def new_rulebook(request: HttpRequest) -> HttpResponse:
    """Begin a rulebook with an edition that has no rule yet."""
    form = NewRulebookForm(posted(request))
    if form.is_valid():
        try:
            edition = start_draft(
                form.cleaned_data["name"], form.facts(), act=act_of(request)
            )
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inspection:edition", edition_id=edition.pk)
    return render(
        request,
        "inspection/edition_settings.html",
        {"form": form, "decision_rules": decision_rules()},
        status=422 if form.errors else 200,
    )


@require_POST
@allow(CHIEF)
def add_class(request: HttpRequest, rulebook_id: int) -> HttpResponse:
    """Add a class that races by a rulebook."""
    rulebook = get_object_or_404(Rulebook, pk=rulebook_id)
    form = ClassForm(request.POST)
    if form.is_valid():
        try:
            add_race_class(
                form.cleaned_data["name"],
                rulebook_name=rulebook.name,
                act=act_of(request),
            )
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inspection:rulebooks")
    context = {"shelf": load_rulebooks(), "class_form": form, "refused": rulebook}
    return render(request, "inspection/rulebooks.html", context, status=422)


@require_POST
@allow(CHIEF)
def new_draft(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Start the next edition from one that is here."""
    get_object_or_404(Edition, pk=edition_id)
    try:
        edition = copy_edition(edition_id, act=act_of(request))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inspection:edition", edition_id=edition_id)
    return redirect("inspection:edition", edition_id=edition.pk)
