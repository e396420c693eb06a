"""One person: roles and who gave them, switched on or off, data, erasing."""

import json
from collections.abc import Callable

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.core.serializers.json import DjangoJSONEncoder
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
)

from inventory.access import allow
from inventory.actions.audit import Act, record_export
from inventory.actions.people.erasing import erase_person
from inventory.actions.people.roles import give_role, switch_off, switch_on, take_role
from inventory.actions.people.second_factor import second_factor_of, take_second_factor
from inventory.actions.people.tokens import end_token
from inventory.compute.roles import ROLES_THAT_MAY, Ability, Role
from inventory.forms.people.people import ErasingForm, GiveRoleForm
from inventory.loaders.personal_data import load_personal_data
from inventory.models import Person
from inventory.views.acts import act_of, form_page, refusals_told
from inventory.views.sent import as_file


@require_GET
@allow(Ability.MANAGE_PEOPLE)
def person(request: HttpRequest, person_id: int) -> HttpResponse:
    """Show a person as an admin keeps them."""
    person = get_object_or_404(Person, pk=person_id)
    return _page(request, person, GiveRoleForm(person=person))


def _page(request: HttpRequest, person: Person, form: GiveRoleForm) -> HttpResponse:
    grants = person.grants.select_related("granted_by").order_by("role")
    return form_page(
        request,
        form,
        "inventory/people/person.html",
        {
            "person": person,
            "grants": [(one, abilities_of_role(one.role)) for one in grants],
            "has_second_factor": second_factor_of(person) is not None,
            "links": person.links.all()[:5],
            "tokens": person.tokens.in_use(timezone.now()),
            "session_count": person.sessions.count(),
            "can_mail": settings.MAIL_IS_SET,
        },
    )


def abilities_of_role(role: Role) -> list[str]:
    """Name what a role lets somebody do."""
    return [one.value for one, roles in ROLES_THAT_MAY.items() if role in roles]


@require_POST
@allow(Ability.MANAGE_PEOPLE)
def give(request: HttpRequest, person_id: int) -> HttpResponse:
    """Give a role."""
    person = get_object_or_404(Person, pk=person_id)
    form = GiveRoleForm(request.POST, person=person)
    if form.is_valid():
        role = form.cleaned_data["role"]
        return _done(request, person_id, lambda one, act: give_role(one, role, act=act))
    return _page(request, person, form)


@require_POST
@allow(Ability.MANAGE_PEOPLE)
def take(request: HttpRequest, person_id: int, role: str) -> HttpResponse:
    """Take a role away."""
    if role not in set(Role):
        raise Http404
    return _done(
        request,
        person_id,
        lambda found, act: take_role(found, Role(role), act=act),
    )


@require_POST
@allow(Ability.MANAGE_PEOPLE)
def off(request: HttpRequest, person_id: int) -> HttpResponse:
    """Switch a person off."""
    return _done(request, person_id, lambda found, act: switch_off(found, act=act))


@require_POST
@allow(Ability.MANAGE_PEOPLE)
def on(request: HttpRequest, person_id: int) -> HttpResponse:
    """Switch a person on again."""
    return _done(request, person_id, lambda found, act: switch_on(found, act=act))


@require_POST
@allow(Ability.MANAGE_PEOPLE)
def without_factor(request: HttpRequest, person_id: int) -> HttpResponse:
    """Take away the second factor of somebody who lost their phone."""
    return _done(
        request, person_id, lambda found, act: take_second_factor(found, act=act)
    )


@require_POST
@allow(Ability.MANAGE_PEOPLE)
def end_token_of(request: HttpRequest, person_id: int, token_id: int) -> HttpResponse:
    """End a token of somebody: of a device that is lost, or a script gone wild."""
    return _done(
        request, person_id, lambda found, act: end_token(token_id, act=act, of=found)
    )


def _done(
    request: HttpRequest, person_id: int, do: Callable[[Person, Act], None]
) -> HttpResponse:
    person = get_object_or_404(Person, pk=person_id)
    with refusals_told(request):
        do(person, act_of(request))
        messages.success(request, _("Done."))
    return redirect("inventory:person", person_id)


@require_GET
@allow(Ability.MANAGE_PEOPLE)
def data(request: HttpRequest, person_id: int) -> HttpResponse:
    """Give all that names a person as a file."""
    return data_answer(request, get_object_or_404(Person, pk=person_id))


def data_answer(request: HttpRequest, person: Person) -> HttpResponse:
    """Answer with the file, and note that it was taken out."""
    content = json.dumps(
        load_personal_data(person), cls=DjangoJSONEncoder, indent=1, ensure_ascii=False
    )
    record_export(f"person {person.pk}", act=act_of(request), form="personal data")
    name = f"personal-data-{person.pk}.json"
    return as_file(HttpResponse(content, content_type="application/json"), name)


@require_http_methods(["GET", "POST"])
@allow(Ability.MANAGE_PEOPLE)
def erase(request: HttpRequest, person_id: int) -> HttpResponse:
    """Say what erasing a person means, and do it."""
    person = get_object_or_404(Person, pk=person_id, erased_at__isnull=True)
    return erasing_page(request, person)


def erasing_page(request: HttpRequest, person: Person) -> HttpResponse:
    """Ask for the sign-in name once more, then erase."""
    form = ErasingForm(request.POST or None, person=person)
    act = act_of(request)
    if form.is_valid():
        with form.refusing():
            erase_person(person, act=act)
            if act.by == person:
                logout(request)
                return redirect("sign_in")
            messages.success(request, _("Erased."))
            return redirect("inventory:people")
    return form_page(
        request,
        form,
        "inventory/people/erase.html",
        {"person": person, "is_own": act.by == person},
    )
