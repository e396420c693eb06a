"""People of the club and their roles."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from inventory.access import ADMINS, allow
from inventory.actions.people import add_person
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.forms.people import NewPersonForm
from inventory.models import Person
from inventory.views.acts import act_of


@require_GET
@allow(ADMINS)
def people(request: HttpRequest) -> HttpResponse:
    """List the people of the club."""
    found = Person.objects.order_by("name").prefetch_related("grants")
    return render(request, "inventory/people.html", {"people": found})


@require_http_methods(["GET", "POST"])
@allow(ADMINS)
def new_person(request: HttpRequest) -> HttpResponse:
    """Add a person with their roles."""
    form = NewPersonForm(request.POST or None)
    if form.is_valid():
        said = form.cleaned_data
        try:
            add_person(
                sign_in_name=said["sign_in_name"],
                name=said["name"],
                password=said["password"],
                roles=[Role(word) for word in said["roles"]],
                act=act_of(request),
            )
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inventory:people")
    return render(
        request,
        "inventory/new_person.html",
        {"form": form},
        status=422 if form.errors else 200,
    )
