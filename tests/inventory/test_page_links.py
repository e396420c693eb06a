"""Links of the head: by the address that is there and the roles of its view."""

import pytest
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.template import Context, Template
from django.test import RequestFactory, override_settings
from django.urls import include, path

from inventory.access import allow
from inventory.compute.roles import Ability, Role
from inventory.models import Person
from tests.builders import make_admin, make_person


def public(request: HttpRequest) -> HttpResponse:
    return HttpResponse(request.path)


desk = [
    path("", allow(Ability.LOOK)(public), name="tonight"),
    path("parts", allow(Ability.LOOK)(public), name="parts"),
    path("people", allow(Ability.MANAGE_PEOPLE)(public), name="people"),
    path("fit", public, name="fit"),
]
urlpatterns = [path("", include((desk, "desk")))]
STRANGER = AnonymousUser()


def link(name: str, user: Person | AnonymousUser, *, at: str = "/") -> str:
    source = f'{{% load page_links %}}{{% page_link "{name}" "Word" %}}'
    context = Context({"user": user, "request": RequestFactory().get(at)})
    with override_settings(ROOT_URLCONF=__name__):
        return Template(source).render(context).strip()


@pytest.mark.django_db
def test_link_to_a_page_that_is_not_there_is_left_out() -> None:
    assert not link("desk:season", make_admin())


@pytest.mark.django_db
def test_link_is_for_those_who_may_open_the_page() -> None:
    assert not link("desk:people", make_person(Role.MEMBER))
    assert 'href="/people"' in link("desk:people", make_person(Role.ADMIN))
    assert not link("desk:parts", STRANGER)
    assert 'href="/fit"' in link("desk:fit", STRANGER)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "at", "current"),
    [
        ("desk:parts", "/parts", "page"),
        ("desk:parts", "/parts/B7K29", "true"),
        ("desk:parts", "/partsandmore", None),
        ("desk:tonight", "/", "page"),
        ("desk:tonight", "/parts", None),
    ],
)
def test_link_says_where_the_person_is(name: str, at: str, current: str | None) -> None:
    written = link(name, make_person(Role.MEMBER), at=at)
    assert (f'aria-current="{current}"' in written) == (current is not None)
    assert ("aria-current" in written) == (current is not None)


def test_link_on_a_page_without_request_or_user_is_for_strangers() -> None:
    source = '{% load page_links %}{% page_link "desk:fit" "Fit" %}'
    with override_settings(ROOT_URLCONF=__name__):
        written = Template(source).render(Context())
    assert 'href="/fit"' in written
