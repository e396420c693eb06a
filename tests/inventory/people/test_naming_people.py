"""Naming somebody: by name, among a few that are offered."""

from collections.abc import Callable
from html import unescape

import pytest
from django.test import Client

from inventory.compute.roles import Role
from inventory.forms.people.people import PersonField
from inventory.loaders.people import MOST_OFFERED, people_called
from inventory.models import Part, Person
from tests import builders

pytestmark = pytest.mark.django_db


def test_person_is_called_by_name_or_sign_in_name() -> None:
    person, _ = builders.make_person(name="Ida Penn"), builders.make_person()
    for text in ("Ida Penn", "ida penn", person.sign_in_name):
        assert people_called(text) == [person]
    Person.objects.filter(pk=person.pk).update(is_active=False)
    assert not people_called("Ida Penn")


def test_those_who_hold_parts_are_offered_first_and_few_of_all() -> None:
    for _ in range(MOST_OFFERED):
        builders.make_person(name="Aaron Early")
    holder = builders.make_person(name="Zoe Late")
    part = builders.make_part()
    Part.objects.filter(pk=part.pk).update(holder=holder, state="with a member")
    offered = list(PersonField().widget.offered())
    assert offered[0] == "Zoe Late"
    assert len(offered) == MOST_OFFERED


def test_name_of_two_is_asked_about(client_of: Callable[[Person], Client]) -> None:
    keeper = client_of(builders.make_person(Role.PARTS_KEEPER))
    first, second = (builders.make_person(name="Ida Penn") for _ in range(2))
    part = builders.make_part()
    address = f"/parts/{part.tag}/hand-out"
    asked = keeper.post(address, {"to_person": "Ida Penn"})
    assert asked.status_code == 422
    words = unescape(asked.content.decode())
    assert "“Ida Penn” is several people's name" in words
    assert 'value="Ida Penn"' in words
    assert first.sign_in_name in words
    keeper.post(address, {"to_person": second.sign_in_name})
    assert Part.objects.get().holder == second
