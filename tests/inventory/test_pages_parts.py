"""The parts pages, end to end."""

import pytest
from django.test import Client

from inventory.actions.stock import GearFacts
from inventory.compute.roles import Role
from inventory.compute.stock import GearRole, PartState
from inventory.models import Part, PartEstimate
from tests import builders
from tests.conftest import QueryGrowth

pytestmark = pytest.mark.django_db


@pytest.fixture
def keeper() -> Client:
    client = Client()
    client.force_login(builders.make_person(Role.PARTS_KEEPER))
    return client


@pytest.fixture
def member() -> Client:
    client = Client()
    client.force_login(builders.make_person())
    return client


def test_empty_list_says_what_the_page_is_for(member: Client) -> None:
    assert "Every tyre, gear and motor" in member.get("/parts").content.decode()


def test_search_finds_by_tag_kind_drawer_compound_and_teeth(member: Client) -> None:
    tyre = builders.make_part(drawer="A1")
    gear = builders.make_part(GearFacts(role=GearRole.SPUR, teeth=28))
    for query, found, other in [
        (f"q={tyre.tag.lower()}", tyre, gear),
        (f"q={tyre.tag[:3]}-{tyre.tag[3:]}", tyre, gear),
        ("q=a1", tyre, gear),
        ("compound=SOFT", tyre, gear),
        ("kind=gear", gear, tyre),
        ("teeth=28", gear, tyre),
    ]:
        page = member.get(f"/parts?{query}").content.decode()
        assert found.tag in page, query
        assert other.tag not in page, query


def test_search_by_size_and_a_size_that_is_none(keeper: Client) -> None:
    tyre, gauge = builders.make_part(), builders.make_gauge(at=builders.now())
    measured = keeper.post(
        f"/parts/{tyre.tag}/measure",
        {"quantity": "tyre_diameter", "gauge": gauge.pk, "texts": "18,42 18.46"},
    )
    assert measured.status_code == 302
    assert PartEstimate.objects.get().value == 18_440_000
    assert tyre.tag in keeper.get("/parts?smallest=18.4&largest=18.5").content.decode()
    assert tyre.tag not in keeper.get("/parts?smallest=18.5").content.decode()
    assert "18.4x" in keeper.get("/parts?smallest=18.4x").content.decode()


def test_reading_that_is_none_is_refused_and_kept_as_typed(keeper: Client) -> None:
    tyre, gauge = builders.make_part(), builders.make_gauge(at=builders.now())
    page = keeper.post(
        f"/parts/{tyre.tag}/measure",
        {"quantity": "tyre_diameter", "gauge": gauge.pk, "texts": "18.42 -3"},
    )
    assert page.status_code == 422
    assert "18.42 -3" in page.content.decode()
    assert not PartEstimate.objects.exists()


def test_new_gear_is_taken_into_stock(keeper: Client) -> None:
    refused = keeper.post("/parts/new/gear", {"role": "spur", "teeth": "2"})
    assert refused.status_code == 422
    made = keeper.post(
        "/parts/new/gear",
        {"role": "spur", "teeth": "28", "fixing": "screw", "drawer": "G1"},
    )
    part = Part.objects.get()
    assert made["Location"] == f"/parts/{part.tag}"
    assert keeper.get("/parts/new/wheel").status_code == 404


def test_member_reserves_and_gives_up(member: Client) -> None:
    tyre = builders.make_part()
    member.post(f"/parts/{tyre.tag}/reserve")
    assert Part.objects.get().state == PartState.RESERVED
    assert tyre.tag in member.get("/parts?mine=on").content.decode()
    member.post(f"/parts/{tyre.tag}/release")
    assert Part.objects.get().state == PartState.IN_STOCK


def test_keeper_hands_out_takes_back_and_retires(keeper: Client) -> None:
    tyre, person = builders.make_part(), builders.make_person()
    nobody = keeper.post(f"/parts/{tyre.tag}/hand-out", {"to_person": ""})
    assert nobody.status_code == 422
    keeper.post(f"/parts/{tyre.tag}/hand-out", {"to_person": person.pk})
    assert person.name in keeper.get(f"/parts/{tyre.tag}").content.decode()
    refused = keeper.post(f"/parts/{tyre.tag}/retire", {"note": "cut"}, follow=True)
    assert "fitted" in refused.content.decode()
    keeper.post(f"/parts/{tyre.tag}/take-back")
    keeper.post(f"/parts/{tyre.tag}/retire", {"note": "cut"})
    assert Part.objects.get().state == PartState.RETIRED
    assert tyre.tag not in keeper.get("/parts").content.decode()
    assert tyre.tag in keeper.get("/parts?state=retired").content.decode()


def test_correction_shows_the_new_drawer(keeper: Client) -> None:
    tyre = builders.make_part()
    keeper.post(f"/parts/{tyre.tag}/correct", {"drawer": "C3", "version": 1})
    stale = keeper.post(f"/parts/{tyre.tag}/correct", {"drawer": "D4", "version": 1})
    assert stale.status_code == 422
    assert Part.objects.get().drawer == "C3"


def test_labels_are_laid_out_for_parts_and_drawers(member: Client) -> None:
    tyre = builders.make_part(drawer="A1")
    page = member.get(f"/parts/labels?tag={tyre.tag}&tag=T0&drawer=A1").content.decode()
    assert page.count("<svg xmlns") == 2
    assert tyre.tag in page


def test_list_asks_the_same_of_the_database_for_many_rows(
    member: Client, same_queries: QueryGrowth
) -> None:
    def fill(rows: int) -> None:
        for _ in range(rows):
            builders.make_part()

    same_queries(lambda: member.get("/parts"), fill, at_most=6)


def test_crown_says_which_pinion_it_is_cut_for(keeper: Client) -> None:
    typed = {"role": "crown", "teeth": "28", "fixing": "screw", "cut_for_teeth": "9"}
    keeper.post("/parts/new/gear", typed)
    part = Part.objects.get()
    assert part.gear.cut_for_teeth == 9
    assert "for a pinion of 9" in keeper.get(f"/parts/{part.tag}").content.decode()
    refused = keeper.post("/parts/new/gear", typed | {"role": "spur"})
    assert refused.status_code == 422
    assert "only a crown is cut for one pinion" in refused.content.decode()
    assert Part.objects.count() == 1
