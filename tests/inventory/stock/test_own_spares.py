"""A member's own spares: beside the club's, theirs alone to see unless shared."""

from collections.abc import Callable
from http import HTTPStatus
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from inspection.loaders.fit.parts import to_be_had
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import reserve_part, share_part
from inventory.compute.roles import Role
from inventory.compute.stock import GearFacts, GearRole, PartState
from inventory.models import AuditRow, Part, Person
from tests import builders

pytestmark = pytest.mark.django_db

SPUR: dict[str, str] = {
    "role": "spur",
    "teeth": "36",
    "pitch_name": "64 pitch",
    "fixing": "screw",
    "size_gear_diameter": "15.08",
    "gauge": "0",
}


@pytest.fixture
def owner() -> Person:
    return builders.make_person()


@pytest.fixture
def client(owner: Person, client_of: Callable[[Person], Client]) -> Client:
    return client_of(owner)


@pytest.fixture
def spare(owner: Person) -> Part:
    facts = GearFacts(role=GearRole.SPUR, teeth=36)
    return builders.make_part(facts, owner=owner)


def listed(client: Client, query: str = "") -> list[str]:
    page: Any = client.get(f"/parts?{query}")
    return [part.tag for part, _, _ in page.context["rows"]]


def test_member_takes_a_spare_in_and_sees_it_beside_the_clubs(
    owner: Person, client: Client
) -> None:
    club = builders.make_part()
    made = client.post("/parts/own/gear", SPUR | {"drawer": "blue box"})
    part = Part.objects.get(owner=owner)
    assert made["Location"] == f"/parts/{part.tag}"
    assert (part.state, part.is_shared, part.drawer) == (
        PartState.IN_STOCK,
        False,
        "blue box",
    )
    assert sorted(listed(client)) == sorted([club.tag, part.tag])
    assert listed(client, "mine=on") == [part.tag]
    assert Part.objects.filter(to_be_had(owner), pk=part.pk).exists()
    assert "private" in client.get(f"/parts/{part.tag}").content.decode()


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"teeth": "none"}, "teeth"),
        ({"size_gear_diameter": "wide"}, "size_gear_diameter"),
    ],
)
def test_spare_that_cannot_be_is_refused_and_nothing_typed_is_lost(
    client: Client, wrong: dict[str, str], field: str
) -> None:
    page = client.post("/parts/own/gear", SPUR | wrong)
    assert page.status_code == 422
    assert page.context["form"].errors[field]
    (typed,) = wrong.values()
    assert f'value="{typed}"' in page.content.decode()
    assert not Part.objects.exists()
    assert client.get("/parts/own/wing").status_code == HTTPStatus.NOT_FOUND


def test_nobody_else_sees_it_until_it_is_shared(
    spare: Part, client: Client, client_of: Callable[[Person], Client]
) -> None:
    other = builders.make_person()
    theirs = client_of(other)
    assert listed(theirs) == []
    assert theirs.get(f"/parts/{spare.tag}").status_code == HTTPStatus.NOT_FOUND
    labels = theirs.get(f"/parts/labels?tag={spare.tag}")
    assert labels.context["labels"] == []
    assert spare.tag not in theirs.get("/parts/export/csv").content.decode()
    assert not Part.objects.filter(to_be_had(other)).exists()
    client.post(f"/parts/{spare.tag}/share", {"shared": "yes"})
    assert listed(theirs) == [spare.tag]
    assert theirs.get(f"/parts/{spare.tag}").status_code == HTTPStatus.OK
    assert Part.objects.filter(to_be_had(other)).exists()
    client.post(f"/parts/{spare.tag}/share", {"shared": "no"})
    assert listed(theirs) == []
    assert AuditRow.objects.filter(event="part.shared").count() == 1
    assert AuditRow.objects.filter(event="part.unshared").count() == 1


def test_who_puts_parts_on_every_car_opens_it_and_has_it_in_no_list(
    spare: Part, client_of: Callable[[Person], Client]
) -> None:
    keeper = client_of(builders.make_person(Role.PARTS_KEEPER))
    assert keeper.get(f"/parts/{spare.tag}").status_code == HTTPStatus.OK
    assert listed(keeper) == []


def test_only_its_owner_shares_it(
    spare: Part, client_of: Callable[[Person], Client]
) -> None:
    other = builders.make_person()
    with pytest.raises(RefusedError) as refusal:
        share_part(spare, is_shared=True, act=builders.act(other))
    assert "is not yours" in refusal.value.sentence
    assert client_of(other).post(f"/parts/{spare.tag}/share").status_code == 404


def test_private_spare_is_not_reserved_by_others(spare: Part, owner: Person) -> None:
    other = builders.make_person()
    with pytest.raises(RefusedError) as refusal:
        reserve_part(spare, act=builders.act(other))
    assert refusal.value.code == "private"
    reserve_part(spare, act=builders.act(owner))
    assert Part.objects.get(pk=spare.pk).holder == owner


def test_owner_measures_and_retires_their_own_and_not_the_clubs(
    spare: Part, client: Client
) -> None:
    said = {"quantity": "bore", "gauge": "0", "texts": "2.40 2.42"}
    client.post(f"/parts/{spare.tag}/measure", said)
    assert spare.estimates.current().get().value == 2_410_000
    client.post(f"/parts/{spare.tag}/retire", {"note": "worn"})
    assert Part.objects.get(pk=spare.pk).state == PartState.RETIRED
    club = builders.make_part()
    assert client.post(f"/parts/{club.tag}/measure", said).status_code == 403
    assert client.post(f"/parts/{club.tag}/retire", {"note": "x"}).status_code == 403


def test_the_clubs_part_is_nobodys_to_share() -> None:
    club = builders.make_part()
    with pytest.raises(IntegrityError), transaction.atomic():
        Part.objects.filter(pk=club.pk).update(is_shared=True)
