"""A part with a long past, and a club of many: page by page."""

import datetime as dt
from collections.abc import Callable

import pytest
from django.test import Client

from inventory.compute.roles import Role
from inventory.compute.stock import Move, PartQuantity
from inventory.models import PartEstimate, PartMove, Person
from inventory.views.people.people import PEOPLE_A_PAGE
from inventory.views.stock.parts import MOVES_A_PAGE, SETS_A_PAGE
from tests import builders

pytestmark = pytest.mark.django_db


def test_sets_and_moves_of_a_part_are_turned_each_by_itself(
    client_of: Callable[[Person], Client],
) -> None:
    part, by = builders.make_part(), builders.make_admin()
    hour = dt.timedelta(hours=1)
    PartEstimate.objects.bulk_create(
        PartEstimate(
            part=part,
            quantity=PartQuantity.BORE,
            value=2_000_000 + place,
            taken_at=builders.NOW + place * hour,
            by=by,
            superseded_at=builders.NOW + (place + 1) * hour,
        )
        for place in range(SETS_A_PAGE)
    )
    PartEstimate.objects.create(
        part=part, quantity=PartQuantity.MASS, value=7, taken_at=builders.NOW, by=by
    )
    PartMove.objects.bulk_create(
        PartMove(part=part, move=Move.RESERVE, at=builders.NOW, by=by, note=f"no. {n}")
        for n in range(MOVES_A_PAGE + 1)
    )
    client = client_of(builders.make_person())
    first = client.get(f"/parts/{part.tag}")
    sets = list(first.context["estimates"])
    current = [one for one in sets if one.superseded_at is None]
    # What is current stands first, whatever was measured since; then the newest.
    assert sets[: len(current)] == current
    assert PartQuantity.MASS in {one.quantity for one in current}
    assert sets[len(current)].value == 2_000_000 + SETS_A_PAGE - 1
    words = first.content.decode()
    assert "no. 0<" not in words
    assert "?moves=2" in words
    assert "?sets=2" in words
    last = client.get(f"/parts/{part.tag}?sets=2&moves=2")
    assert 2_000_000 in {one.value for one in last.context["estimates"]}
    assert "no. 0\n<" in last.content.decode()
    # Turning one list keeps the other where it is.
    assert "?sets=2&amp;moves=1" in last.content.decode()


def test_people_are_searched_and_turned(
    client_of: Callable[[Person], Client],
) -> None:
    admin = client_of(builders.make_person(Role.ADMIN))
    for _ in range(PEOPLE_A_PAGE):
        builders.make_person(name="Aaron Early")
    builders.make_person(name="Zoe Late")
    first = admin.get("/people")
    assert "Zoe Late" not in first.content.decode()
    assert "?page=2" in first.content.decode()
    assert "Zoe Late" in admin.get("/people?page=2").content.decode()
    found = admin.get("/people", {"q": "late zo"})
    assert [one.name for one in found.context["page"]] == ["Zoe Late"]
