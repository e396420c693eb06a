"""Who has what for how long; what comes back at the counter with its size."""

import datetime as dt
import json
from http import HTTPStatus

import pytest
from django.test import Client

from inventory.actions.drawers.taking_back import CounterReadings, hand_back_part
from inventory.actions.draws import hand_out_lots
from inventory.actions.pairing import hand_out_set
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import hand_out_part
from inventory.compute.roles import Role
from inventory.loaders.lent import load_lent
from inventory.loaders.pairs import load_sets
from inventory.models import Part, PartSet
from tests import builders
from tests.inventory import bags

pytestmark = pytest.mark.django_db


@pytest.fixture
def keeper() -> Client:
    client = Client()
    client.force_login(builders.make_person(Role.PARTS_KEEPER))
    return client


def text(answer: object) -> str:
    return answer.content.decode()  # type: ignore[attr-defined,no-any-return]


def test_bag_that_is_out_is_one_thing_with_its_days(keeper: Client) -> None:
    assert "Nothing is out" in text(keeper.get("/lent"))
    ann, bob = builders.make_person(name="Ann"), builders.make_person(name="Bob")
    pair, loose = bags.make_set(), builders.make_part()
    hand_out_set(pair, bob, act=builders.act())
    hand_out_part(loose, ann, act=builders.act(minutes=30))
    later = builders.act().at + dt.timedelta(days=9, hours=1)
    first, second = load_lent(later)
    assert (first.who, first.tag, first.days) == ("Ann", loose.tag, 9)
    assert (second.who, second.tag, second.is_set) == ("Bob", pair.tag, True)
    assert len(second.parts) == 2
    assert [one.tag for one in load_lent(later, "bob")] == [pair.tag]
    # On a car it is still whoever was given it that answers for it.
    builders.fit(builders.make_car(), loose)
    (on_car,) = load_lent(later, loose.tag)
    assert (on_car.who, on_car.states) == ("Ann", "on a car")
    page = text(keeper.get("/lent?q=bob"))
    assert f"/pairs/{pair.tag}" in page
    assert loose.tag not in page
    rows = json.loads(keeper.get("/lent/export/json").content)
    assert {row["bag"] for row in rows} == {"", pair.tag}
    assert len(rows) == 3
    # Of a bag no single tyre is handed out or taken back on its own page.
    member = pair.members.select_related("part")[0].part
    assert "goes out and comes back whole" not in text(
        keeper.get(f"/parts/{loose.tag}")
    )
    assert 'name="back-note"' not in text(keeper.get(f"/parts/{member.tag}"))


def test_motor_that_a_number_drew_is_with_that_number(keeper: Client) -> None:
    draw = bags.make_draw(drivers=["7", "12"])
    hand_out_lots(draw, act=builders.act())
    assert {one.who for one in load_lent(builders.NOW)} == {"Draw: 7", "Draw: 12"}
    assert "On a car" not in text(keeper.get("/lent"))


def test_part_on_a_car_says_on_which(keeper: Client) -> None:
    """A member put it on out of the drawer: nobody handed it out."""
    car = builders.make_car()
    builders.fit(car, builders.make_part())
    (one,) = load_lent(builders.NOW)
    assert (one.who, one.note) == ("", f"car {car.number}, rear left")
    assert one.note in text(keeper.get("/lent"))


def test_bag_comes_back_worn_and_stays_a_bag(keeper: Client) -> None:
    pair, gauge = bags.make_set(), builders.make_gauge(at=builders.now())
    hand_out_set(pair, builders.make_person(), act=builders.act())
    parts = [one.part for one in pair.members.select_related("part")]
    address = f"/pairs/{pair.tag}/take-back"
    page = text(keeper.get(f"/pairs/{pair.tag}"))
    assert f'name="back-size_{parts[0].pk}"' in page
    sizes = {f"back-size_{parts[0].pk}": "17.90 17.92"}
    without = keeper.post(address, sizes)
    assert without.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    assert "say with which gauge" in text(without)
    assert "17.90 17.92" in text(without)
    with_gauge = {"back-gauge": gauge.pk}
    for wrong, sentence in (
        ("x", "“x”"),
        ("179.1", "Did the gauge show 17.91?"),
    ):
        answer = keeper.post(address, with_gauge | {f"back-size_{parts[0].pk}": wrong})
        assert answer.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
        assert sentence in text(answer) or "Expected a length" in text(answer)
    assert set(Part.objects.values_list("state", flat=True)) == {"with a member"}
    keeper.post(address, sizes | with_gauge)
    assert set(Part.objects.values_list("state", flat=True)) == {"in stock"}
    (loaded,) = load_sets(PartSet.objects.together())
    assert loaded.part_set == pair
    assert loaded.sizes[0] == pytest.approx(17.91)
    assert loaded.spread_now_text in text(keeper.get(f"/pairs/{pair.tag}"))
    assert loaded.spread_now_text


def test_part_comes_back_with_a_note_and_a_size_that_is_right(keeper: Client) -> None:
    part, gauge = builders.make_part(), builders.make_gauge(at=builders.now())
    hand_out_part(part, builders.make_person(), act=builders.act())
    said = {
        f"back-size_{part.pk}": "7.5",
        "back-gauge": gauge.pk,
        "back-note": "cut down",
    }
    address = f"/parts/{part.tag}/take-back"
    asked = keeper.post(address, said)
    assert "The sizes are right as they stand" in text(asked)
    keeper.post(address, said | {"back-right": "on"})
    assert part.estimates.current().get().value == 7_500_000
    assert part.moves.latest("pk").note == "cut down"
    # It is back: it cannot come back again, and nothing is measured.
    again = keeper.post(address, said | {"back-right": "on"})
    assert again.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    assert part.estimates.count() == 1
    with pytest.raises(RefusedError):
        hand_back_part(part, CounterReadings(), act=builders.act())
