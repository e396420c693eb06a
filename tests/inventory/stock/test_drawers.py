"""Drawers: found by any printed word, many parts laid at once, counted."""

import json
from http import HTTPStatus

import pytest
from django.test import Client

from inventory.actions.drawers.laying import lay_parts
from inventory.actions.drawers.stocktakes import (
    close_stocktake,
    drop_stocktake,
    lay_surplus,
    start_stocktake,
    tick_parts,
)
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import hand_out_part, reserve_part, retire_part
from inventory.compute.roles import Role
from inventory.compute.stock import GearFacts, GearRole, TyreFacts
from inventory.loaders.parts import PartSearch, find_parts
from inventory.models import FactChange, Part, PartSet, Stocktake, StocktakeLine
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


def refused(call: object) -> str:
    with pytest.raises(RefusedError) as refusal:
        call()  # type: ignore[operator]
    return refusal.value.code


def drawers() -> dict[str, str]:
    return dict(Part.objects.values_list("tag", "drawer"))


def test_any_printed_word_finds_a_part() -> None:
    bags.take_rows([bags.row("18.42", tag="A1", words={"compound": "soft"})])
    tyre = Part.objects.get(tag="A1")
    Part.objects.filter(pk=tyre.pk).update(drawer="Shelf 3, box 1", name="left")
    crown = builders.make_part(
        GearFacts(role=GearRole.CROWN, teeth=31, pitch_name="64 pitch", family="deep")
    )
    words = {
        "18.42 mm": tyre,
        "18,42": tyre,
        "soft": tyre,
        "box": tyre,
        "LEFT": tyre,
        "tyre": tyre,
        "64 pitch": crown,
        "31 teeth": crown,
        "crown": crown,
        "deep": crown,
        "gear": crown,
    }
    for said, part in words.items():
        assert find_parts(PartSearch(words=said)).get() == part, said
    assert find_parts(PartSearch(pitch="64")).get() == crown
    assert find_parts(PartSearch(drawer="shelf 3, BOX 1")).get() == tyre
    for nothing in ("18.5", "48 pitch", "32 teeth", "99999"):
        assert not find_parts(PartSearch(words=nothing)).exists(), nothing


def test_many_are_laid_at_once_and_a_bag_stays_together() -> None:
    pair = bags.make_set()
    in_bag = [one.part.tag for one in pair.members.select_related("part")]
    loose = builders.make_part(drawer="A")
    assert lay_parts([in_bag[0], loose.tag], "B", act=builders.act()) == 3
    assert {drawers()[tag] for tag in (*in_bag, loose.tag)} == {"B"}
    assert PartSet.objects.get(pk=pair.pk).drawer == "B"
    change = FactChange.objects.get(part=loose)
    assert (change.fact, change.before, change.after) == ("drawer", "A", "B")
    # What lies there already is laid there without a row.
    count = FactChange.objects.count()
    lay_parts([loose.tag], "B", act=builders.act())
    assert FactChange.objects.count() == count


def test_nothing_is_laid_that_cannot_be() -> None:
    one, out = builders.make_part(drawer="A"), builders.make_part(drawer="A")
    retire_part(out, reason="cut", act=builders.act())
    act = builders.act()
    assert refused(lambda: lay_parts([one.tag], " ", act=act)) == "no_drawer"
    assert refused(lambda: lay_parts([], "B", act=act)) == "no_parts"
    for odd in (out.tag, "T0"):
        assert refused(lambda: lay_parts([one.tag, odd], "B", act=act)) == "not_in_use"  # noqa: B023
    assert set(drawers().values()) == {"A"}


def test_pages_of_drawers_list_lay_and_label(keeper: Client) -> None:
    assert "A drawer is here as soon as" in text(keeper.get("/drawers"))
    parts = [builders.make_part(drawer="Röhre 1/2") for _ in range(3)]
    hand_out_part(parts[0], builders.make_person(), act=builders.act())
    page = text(keeper.get("/drawers?q=röhre"))
    assert "2 parts in it" in page
    assert "1 away" in page
    assert "Röhre" not in text(keeper.get("/drawers?q=other"))
    rows = json.loads(keeper.get("/drawers/export/json").content)
    assert rows[0]["parts in it"] == 2
    address = "/drawers/of?drawer=R%C3%B6hre%201%2F2"
    assert address in page
    page = text(keeper.get(address))
    assert parts[1].tag in page
    assert "Count it" in page
    tags = f"tag={parts[1].tag}&tag={parts[2].tag}"
    assert parts[2].tag in text(keeper.get(f"/drawers/lay?{tags}"))
    assert "No part is ticked" in text(keeper.get("/drawers/lay"))
    said = {"tag": [parts[1].tag, parts[2].tag], "drawer": ""}
    empty = keeper.post("/drawers/lay", said)
    assert empty.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    assert parts[1].tag in text(empty)
    odd = keeper.post("/drawers/lay", said | {"tag": "T0", "drawer": "B"})
    assert "T0: not in use" in text(odd)
    laid = keeper.post("/drawers/lay", said | {"drawer": "B 7"}, follow=True)
    assert "2 parts lie in drawer B 7." in text(laid)
    assert "<svg xmlns" in text(keeper.get("/parts/labels?drawer=B+7"))
    assert "Nothing lies in it" in text(keeper.get("/drawers/of?drawer=none"))


def test_stocktake_tells_found_missing_and_surplus() -> None:
    here = [builders.make_part(TyreFacts(), drawer="A") for _ in range(4)]
    there = builders.make_part(TyreFacts(), drawer="B")
    out = builders.make_part(TyreFacts(), drawer="A")
    hand_out_part(out, builders.make_person(), act=builders.act())
    reserve_part(here[3], act=builders.act())
    take = start_stocktake("A", act=builders.act())
    assert (
        refused(lambda: start_stocktake("A", act=builders.act())) == "counted_already"
    )
    assert refused(lambda: start_stocktake(" ", act=builders.act())) == "no_drawer"
    tags = [here[0].tag, here[1].tag.lower(), here[3].tag, there.tag, "?x"]
    tick_parts(take, there=tags, act=builders.act())
    tick_parts(take, there=tags[:1], not_there=[here[1].tag], act=builders.act())
    close_stocktake(take, act=builders.act())
    lines = {one.tag: one.counted for one in StocktakeLine.objects.all()}
    assert lines == {
        here[0].tag: "found",
        here[1].tag: "missing",
        here[2].tag: "missing",
        here[3].tag: "found",
        there.tag: "surplus",
        "?x": "surplus",
    }
    # A member has the other: it is not missing.
    assert out.tag not in lines
    line = StocktakeLine.objects.get(tag=there.tag)
    assert (line.drawer, line.state) == ("B", "in stock")
    for again in (
        lambda: close_stocktake(take, act=builders.act()),
        lambda: tick_parts(take, there=["?y"], act=builders.act()),
        lambda: drop_stocktake(take, act=builders.act()),
    ):
        assert refused(again) == "closed"
    assert lay_surplus(take, act=builders.act()) == 1
    assert drawers()[there.tag] == "A"
    # Once it is closed another may be started.
    drop_stocktake(start_stocktake("A", act=builders.act()), act=builders.act())
    assert Stocktake.objects.count() == 1


def test_stocktake_is_ticked_by_two_and_closed_by_its_page(keeper: Client) -> None:
    one, two = builders.make_part(drawer="A"), builders.make_part(drawer="A")
    bags.take_rows([bags.row("18.42", tag="LOOSE1")])
    wrong = keeper.post("/stocktakes/start", {"drawer": ""}, follow=True)
    assert "required" in text(wrong)
    started = keeper.post("/stocktakes/start", {"drawer": "A"})
    address = started["Location"]
    again = keeper.post("/stocktakes/start", {"drawer": "A"}, follow=True)
    assert "being counted already" in text(again)
    assert "being counted" in text(keeper.get("/drawers"))
    assert "Go on counting" in text(keeper.get("/drawers/of?drawer=A"))
    keeper.post(f"{address}/tick", {"there": [one.tag], "tags": "loose1"})
    # Another who has not seen that tick keeps it by sending their own.
    keeper.post(f"{address}/tick", {"there": [two.tag], "tags": ""})
    page = text(keeper.get(address))
    assert "<b>0</b> parts are not ticked yet" in page
    assert "Lies there, and should not" in page
    keeper.post(f"{address}/tick", {"was": [two.tag, "LOOSE1"], "there": ["LOOSE1"]})
    long = keeper.post(f"{address}/tick", {"tags": "x " * 3_000})
    assert long.status_code == HTTPStatus.UNPROCESSABLE_ENTITY
    reader = Client()
    reader.force_login(builders.make_person())
    assert "1</b> part is not ticked" in text(reader.get(address))
    was = [one.tag, "LOOSE1"]
    keeper.post(f"{address}/tick", {"was": was, "there": was, "close": "1"})
    page = text(keeper.get(address))
    for said in ("Missing", two.tag, "Surplus", "LOOSE1", "closed by"):
        assert said in page
    rows = json.loads(keeper.get(f"{address}/export/json").content)
    assert {row["tag"]: row["counted"] for row in rows} == {
        one.tag: "found",
        two.tag: "missing",
        "LOOSE1": "surplus",
    }
    late = keeper.post(f"{address}/tick", {"tags": "T1"}, follow=True)
    assert "is closed; start another" in text(late)
    laid = keeper.post(f"{address}/lay", follow=True)
    assert "1 part lies in drawer A." in text(laid)
    assert drawers()["LOOSE1"] == "A"
    gone = keeper.post(f"{address}/drop", follow=True)
    assert "is closed" in text(gone)


def test_labels_are_ticked_by_what_a_scanner_types(keeper: Client) -> None:
    """A label's code holds the address that it was printed for, a bag's likewise."""
    pair, loose = bags.make_set(), builders.make_part(drawer="A")
    in_bag = [one.part.tag for one in pair.members.select_related("part")]
    lay_parts(in_bag, "A", act=builders.act())
    take = start_stocktake("A", act=builders.act())
    typed = [
        f"http://desk.example/parts/{loose.tag}",
        f"http://10.0.0.5:8000/pairs/{pair.tag}",
        "http://desk.example/a-page-that-is-no-label-of-ours-and-has-no-end",
    ]
    keeper.post(f"/stocktakes/{take.pk}/tick", {"tags": "\n".join(typed)})
    close_stocktake(take, act=builders.act())
    lines = {one.tag: one.counted for one in StocktakeLine.objects.all()}
    found = dict.fromkeys([*in_bag, loose.tag], "found")
    assert lines.items() >= found.items()
    assert sorted(lines.values()) == ["found"] * 3 + ["surplus"]


def test_spare_of_a_member_is_none_of_the_clubs_drawers(keeper: Client) -> None:
    owner = builders.make_person()
    own = builders.make_part(drawer="My box", owner=owner)
    page = text(keeper.get("/drawers"))
    assert "My box" not in page
    assert own.tag not in text(keeper.get("/drawers/of?drawer=My+box"))
    assert own.tag not in text(keeper.get(f"/drawers/lay?tag={own.tag}"))
    act = builders.act()
    assert refused(lambda: lay_parts([own.tag], "B", act=act)) == "not_in_use"
    take = start_stocktake("My box", act=act)
    tick_parts(take, there=[own.tag], act=act)
    close_stocktake(take, act=act)
    line = StocktakeLine.objects.get()
    assert (line.counted, line.part) == ("surplus", None)
    assert drawers()[own.tag] == "My box"
