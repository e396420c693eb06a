"""The parts pages, end to end."""

import re

import pytest
from django.test import Client

from inventory.compute.roles import Role
from inventory.compute.stock import GearFacts
from inventory.compute.stock.words import GearRole, PartState
from inventory.models import Part, PartEstimate
from inventory.templatetags.parts import estimate_text, size
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
    assert "Every part of the club" in member.get("/parts").content.decode()


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
    keeper.post(f"/parts/{tyre.tag}/hand-out", {"to_person": person.name})
    assert person.name in keeper.get(f"/parts/{tyre.tag}").content.decode()
    refused = keeper.post(f"/parts/{tyre.tag}/retire", {"note": "cut"}, follow=True)
    assert "with a member" in refused.content.decode()
    keeper.post(f"/parts/{tyre.tag}/take-back")
    keeper.post(f"/parts/{tyre.tag}/retire", {"note": "cut"})
    assert Part.objects.get().state == PartState.RETIRED
    assert tyre.tag not in keeper.get("/parts").content.decode()
    assert tyre.tag in keeper.get("/parts?state=retired").content.decode()


def test_correction_shows_the_new_drawer(keeper: Client) -> None:
    tyre = builders.make_part()
    said = {
        "correct-drawer": "C3",
        "correct-version": 1,
        "correct-reason": "Laid there at the stocktake.",
    }
    keeper.post(f"/parts/{tyre.tag}/correct", said)
    stale = keeper.post(f"/parts/{tyre.tag}/correct", said | {"correct-drawer": "D4"})
    assert stale.status_code == 422
    assert Part.objects.get().drawer == "C3"


def test_labels_are_laid_out_for_parts_and_drawers(member: Client) -> None:
    tyre = builders.make_part(drawer="A1")
    page = member.get(f"/parts/labels?tag={tyre.tag}&tag=T0&drawer=A1").content.decode()
    assert page.count("<svg xmlns") == 2
    assert tyre.tag in page


def test_label_says_largest_what_the_part_is_chosen_by(member: Client) -> None:
    facts = GearFacts(role=GearRole.SPUR, teeth=26, pitch_name="48 pitch")
    gear = builders.make_part(facts)
    page = member.get(f"/parts/labels?tag={gear.tag}").content.decode()
    said = re.findall(r"<text[^>]*>([^<]*)", page)
    assert said[:3] == ["26 T · 48 pitch", gear.tag, "spur"]


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


def test_doubt_of_a_size_is_never_nothing(keeper: Client) -> None:
    tyre, gauge = builders.make_part(), builders.make_gauge(at=builders.now())
    keeper.post(
        f"/parts/{tyre.tag}/measure",
        {"quantity": "tyre_diameter", "gauge": gauge.pk, "texts": "18,42 18.46"},
    )
    estimate = PartEstimate.objects.get()
    # A doubt of 3 µm was printed as ± 0.00.
    estimate.random, estimate.systematic = 3_120, 0
    assert estimate_text(estimate) == "18.4400 ± 0.0031 mm"
    page = keeper.get(f"/parts/{tyre.tag}").content.decode()
    assert "±" in page
    assert "± 0.00 " not in page
    assert page.count("± is the standard uncertainty") == 1


def test_figures_of_a_gauge_are_not_cut_short() -> None:
    assert size(10_000, "mm") == "0.010 mm"
    assert size(500, "mm") == "0.0005 mm"
    assert size(1_270, "mm") == "0.00127 mm"


def test_new_part_comes_in_with_all_its_sizes(keeper: Client) -> None:
    gauge = builders.make_gauge(at=builders.now())
    said = {"role": "spur", "teeth": "30", "fixing": "screw", "gauge": gauge.pk}
    sizes = {"size_gear_diameter": "13.00 13.02", "size_bore": "2.38", "size_mass": "1"}
    keeper.post("/parts/new/gear", said | sizes)
    part = Part.objects.get()
    known: dict[str, PartEstimate] = {
        one.quantity: one for one in PartEstimate.objects.all()
    }
    assert known["gear_diameter"].value == 13_010_000
    assert known["gear_diameter"].count == 2
    assert (known["bore"].value, known["bore"].gauge_mode) == (2_380_000, gauge)
    assert known["mass"].gauge_mode is None
    assert f"like={part.tag}" in keeper.get(f"/parts/{part.tag}").content.decode()


def test_several_alike_come_in_at_once_and_another_like_them(keeper: Client) -> None:
    said = {"compound": "soft", "wheel": "16 × 10", "drawer": "A1", "gauge": "0"}
    said |= {"size_tyre_width": "9.5", "count": "3"}
    answer = keeper.post("/parts/new/tyre", said)
    tags = set(Part.objects.values_list("tag", flat=True))
    assert len(tags) == 3
    page = keeper.get(answer["Location"]).content.decode()
    assert all(tag in page for tag in tags)
    assert {one.value for one in PartEstimate.objects.all()} == {9_500_000}
    more = keeper.post("/parts/new/tyre", said | {"then": "another", "count": ""})
    asked = keeper.get(more["Location"]).content.decode()
    for typed in ("soft", "16 × 10", "A1"):
        assert f'value="{typed}"' in asked
    assert 'value="9.5"' not in asked
    twice = keeper.post("/parts/new/tyre", said | {"tag": "X1"})
    assert "each needs its own" in twice.content.decode()
    assert Part.objects.count() == 4


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"size_tyre_diameter": "18.4x"}, "18.4x"),
        (
            {"size_tyre_diameter": "184"},
            "(8 to 32 mm). Did the gauge show 18.40?",
        ),
        ({"size_tyre_diameter": "18.4", "gauge": ""}, "with which gauge"),
        ({"size_tyre_diameter": "-3", "right": "on"}, "no size of a part"),
        ({"count": "200"}, "100"),
    ],
)
def test_strange_size_is_asked_about_and_kept_as_typed(
    keeper: Client, typed: dict[str, str], sentence: str
) -> None:
    said = {"compound": "soft", "gauge": "0"} | typed
    answer = keeper.post("/parts/new/tyre", said)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert all(f'value="{text}"' in page for text in typed.values() if text != "on")
    assert not Part.objects.exists()


def test_strange_size_is_taken_when_it_is_right(keeper: Client) -> None:
    said = {"gauge": "0", "size_tyre_diameter": "45", "right": "on"}
    keeper.post("/parts/new/tyre", said)
    assert PartEstimate.objects.get().value == 45_000_000


def test_tag_typed_in_small_letters_is_found(member: Client) -> None:
    tyre = builders.make_part()
    own = builders.make_part(tag="Ab7")
    assert tyre.tag in member.get(f"/parts/{tyre.tag.lower()}").content.decode()
    typed = f"{tyre.tag[:3]}-{tyre.tag[3:]}".lower()
    assert tyre.tag in member.get(f"/parts/{typed}").content.decode()
    assert own.tag in member.get("/parts/ab7").content.decode()
    builders.make_part(tag="aB7")
    assert member.get("/parts/ab7").status_code == 404
    assert member.get("/parts/Ab7").status_code == 200
