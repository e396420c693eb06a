"""Who is whose family."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods, require_POST

from inventory.access import allow
from inventory.actions.people.families import declare_family, take_back_family
from inventory.compute.roles import Ability
from inventory.forms.people.people import FamilyForm
from inventory.models import FamilyTie
from inventory.views.acts import act_of, form_page


@require_http_methods(["GET", "POST"])
@allow(Ability.MANAGE_PEOPLE)
def family(request: HttpRequest) -> HttpResponse:
    """List who is declared whose family, and declare two more."""
    form = FamilyForm(request.POST or None)
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            declare_family(cleaned["one"], cleaned["other"], act=act_of(request))
            return redirect("inventory:family")
    ties = FamilyTie.objects.select_related("first", "second", "declared_by")
    return form_page(
        request,
        form,
        "inventory/people/family.html",
        {"ties": ties},
    )


@require_POST
@allow(Ability.MANAGE_PEOPLE)
def no_family(request: HttpRequest, tie_id: int) -> HttpResponse:
    """Take back that two people are family."""
    take_back_family(get_object_or_404(FamilyTie, pk=tie_id), act=act_of(request))
    return redirect("inventory:family")
