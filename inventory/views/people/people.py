"""People of the club, their roles, and who is whose family."""

from typing import Final

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from inventory.access import allow
from inventory.actions.people.joining import add_person
from inventory.compute.roles import Ability, Role
from inventory.files.exports import ExportTable
from inventory.forms.people.people import NewPersonForm
from inventory.forms.pick import SearchForm
from inventory.loaders.people import find_people, open_invitations
from inventory.views.acts import act_of, form_page
from inventory.views.sent import export_form, sent_tables

PEOPLE_A_PAGE: Final = 50


@require_GET
@allow(Ability.MANAGE_PEOPLE)
def people(request: HttpRequest) -> HttpResponse:
    """List the people of the club, page by page."""
    form = SearchForm(request.GET)
    people = find_people(form.words).prefetch_related("grants")
    page = Paginator(people, PEOPLE_A_PAGE).get_page(request.GET.get("page"))
    context = {"form": form, "page": page, "invited": open_invitations(timezone.now())}
    return render(request, "inventory/people/people.html", context)


@require_GET
@allow(Ability.MANAGE_PEOPLE)
def export_people(request: HttpRequest, form: str) -> HttpResponse:
    """Give the people that a search finds as a file, as they come in by a list."""
    search = SearchForm(request.GET)
    people = find_people(search.words).prefetch_related("grants")
    table = ExportTable(
        name="people",
        headings=("Name", "Sign-in name", "Roles", "may sign in"),
        rows=[
            (
                one.name,
                one.sign_in_name,
                ", ".join(grant.role for grant in one.grants.all()),
                "yes" if one.is_active else "no",
            )
            for one in people
        ],
    )
    return sent_tables(request, [table], export_form(form), "people")


@require_http_methods(["GET", "POST"])
@allow(Ability.MANAGE_PEOPLE)
def new_person(request: HttpRequest) -> HttpResponse:
    """Add a person with their roles."""
    form = NewPersonForm(request.POST or None)
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            add_person(
                sign_in_name=cleaned["sign_in_name"],
                name=cleaned["name"],
                password=cleaned["password"],
                roles=[Role(word) for word in cleaned["roles"]],
                act=act_of(request),
            )
            return redirect("inventory:people")
    return form_page(
        request,
        form,
        "inventory/people/new_person.html",
    )
