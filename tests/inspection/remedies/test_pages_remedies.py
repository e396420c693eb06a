"""Remedies, from the sheet that sends a car back to the sheet that passes it."""

from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.test import Client

from inspection.actions.race_nights import call_back
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import start_sheet
from inspection.compute.judging.outcomes import Outcome
from inspection.compute.night.entries import Decision, PartPosition
from inspection.compute.quantities.sources import Source
from inspection.loaders.block.sheets import LoadedSheet, load_sheet, sheets_to_load
from inspection.models import Car, Edition, FittedPart, Sheet
from inventory.actions.stock import reserve_part, retire_part
from inventory.compute.numbers.units import Unit
from inventory.compute.roles import Role
from inventory.compute.stock.words import Move, PartState
from inventory.models import AuditRow, Part, PartMove, Person
from tests import builders
from tests.inspection import garage

pytestmark = pytest.mark.django_db


@pytest.fixture
def scrutineer(db: None) -> Person:
    builders.make_edition(garage.RULES)
    return builders.make_scrutineer()


@pytest.fixture
def client(scrutineer: Person, client_of: Callable[[Person], Client]) -> Client:
    return client_of(scrutineer)


def text_of(answer: Any) -> str:
    return " ".join(unescape(str(answer.content.decode())).split())


def low_car(**made: Any) -> Car:
    """Give a car whose gear of 18.60 clears by 0.70, where 0.80 is asked."""
    gear = garage.gear(36, "18.60", hub="6.00")
    room = garage.ROOM | {"axle_to_bar_mm": "9.8", "slot_high_mm": "11.5"}
    return garage.make_car(on_car={PartPosition.GEAR: gear}, **{"room": room} | made)


def on_block(car: Car, by: Person) -> Sheet:
    night = builders.make_night(Edition.objects.get())
    sheet = builders.make_sheet(entry=builders.make_entry(car=car, night=night), by=by)
    scale = garage.caliper(Unit.GRAM).mode
    builders.read(sheet, "weight_car", "95.2", gauge=scale, by=by)
    return sheet


def sent_back(car: Car, by: Person) -> Sheet:
    sheet = on_block(car, by)
    act = builders.act(by, minutes=3)
    builders.send_back(sheet.number, act=act)
    return sheet


def loaded(number: str) -> LoadedSheet:
    return load_sheet(sheets_to_load().get(number=number))


def remedies(client: Client, sheet: Sheet) -> Any:
    return client.get(f"/sheet/{sheet.number}/remedies")


def hand_out(client: Client, sheet: Sheet, tags: str) -> Any:
    typed = {"tags": tags}
    address = f"/sheet/{sheet.number}/remedies/hand-out"
    return client.post(address, typed, follow=True)


def test_sheet_that_sends_back_offers_what_would_help(
    client: Client, scrutineer: Person
) -> None:
    small, large = garage.gear(28, "15.00"), garage.gear(30, "16.00")
    garage.gear(34, "18.00", pitch="64 pitch")
    sheet = sent_back(low_car(), scrutineer)
    page = remedies(client, sheet)
    lines = page.context["remedies"].lines
    # From 36 teeth the rollout changes by a fifth to 30, by more to 28.
    assert [line.tags for line in lines] == [large.tag, small.tag]
    assert [line.change_percent for line in lines] == pytest.approx(
        [100 * (36 / 30 - 1), 100 * (36 / 28 - 1)]
    )
    (cured,) = lines[0].cured
    # 10 - 8 = 2.0 over the track, 1.2 inside.
    assert (cured.rule.number, cured.outcome) == ("1", Outcome.PASS)
    assert cured.margin == pytest.approx(1.2)
    shown = client.get(f"/sheet/{sheet.number}").content.decode()
    assert f'hx-get="/sheet/{sheet.number}/remedies"' in shown
    piece = client.get(
        f"/sheet/{sheet.number}/remedies", headers={"HX-Request": "true"}
    )
    assert "<html" not in piece.content.decode()


def test_remedy_is_handed_out_and_the_recheck_begins_with_it(
    client: Client, scrutineer: Person
) -> None:
    part, car = garage.gear(30, "16.00"), low_car()
    sheet = sent_back(car, scrutineer)
    page = hand_out(client, sheet, part.tag)
    assert f"{part.tag} handed out and on the car" in text_of(page)
    assert "Queue it for its re-check" in text_of(page)
    fitted = FittedPart.objects.get(car=car, removed_at=None, position="gear")
    assert fitted.part == part
    move = PartMove.objects.get(part=part, move=Move.FIT)
    assert "handed out on the block" in move.note
    assert sheet.number in move.note
    audit = AuditRow.objects.get(event="remedy.handed_out")
    assert audit.detail == {"parts": [part.tag]}
    client.post(f"/entry/{sheet.entry_id}/queue")
    again = start_sheet(
        sheet.entry_id, block=None, changed=(), act=builders.act(scrutineer, minutes=9)
    )
    values = loaded(again.number).values
    assert values["gear_diameter"].source is Source.FITTED_PART
    assert values["gear_diameter"].text == "16.00 mm"
    assert values["teeth_gear"].text.startswith("30")
    assert values["weight_car"].source is Source.CARRIED
    # With the new part's readings alone no rule keeps the car from passing.
    assert loaded(again.number).refused == ()
    passed = builders.act(scrutineer, minutes=10)
    seal_sheet(again.number, decision=Decision.PASSED, act=passed)


def test_pair_of_tyres_goes_on_left_and_right(
    client: Client, scrutineer: Person
) -> None:
    pair = garage.tyre("20.40"), garage.tyre("20.44")
    car = low_car()
    sheet = sent_back(car, scrutineer)
    (line,) = remedies(client, sheet).context["remedies"].lines
    # (20.40 - 18.60) / 2 = 0.90.
    assert line.tags == f"{pair[0].tag}+{pair[1].tag}"
    hand_out(client, sheet, line.tags)
    places = FittedPart.objects.filter(car=car, removed_at=None).in_bulk(
        field_name="id"
    )
    found: dict[str, Part] = {one.position: one.part for one in places.values()}
    assert (found["rear left"], found["rear right"]) == pair


def test_motor_and_gear_are_handed_out_together(
    client: Client, scrutineer: Person
) -> None:
    car, engine, gear = low_car(), garage.motor(), garage.gear(30, "16.00")
    sheet = sent_back(car, scrutineer)
    hand_out(client, sheet, f"{engine.tag}+{gear.tag}")
    places: dict[str, str] = dict(
        FittedPart.objects.filter(car=car, removed_at=None).values_list(
            "position", "part__tag"
        )
    )
    assert (places["motor"], places["gear"]) == (engine.tag, gear.tag)


def test_open_sheet_shows_remedies_and_hands_none_out(
    client: Client, scrutineer: Person
) -> None:
    part = garage.gear(30, "16.00")
    sheet = on_block(low_car(), scrutineer)
    page = remedies(client, sheet)
    assert part.tag in text_of(page)
    assert "Hand out" not in text_of(page)
    block = client.get(f"/sheet/{sheet.number}/block").content.decode()
    assert f"/sheet/{sheet.number}/remedies" in block
    refused = hand_out(client, sheet, part.tag)
    assert "is “on the block”" in text_of(refused)
    assert Part.objects.get(pk=part.pk).state == PartState.IN_STOCK


def test_nothing_that_helps_says_what_would(client: Client, scrutineer: Person) -> None:
    garage.gear(37, "18.90")
    sheet = sent_back(low_car(), scrutineer)
    page = remedies(client, sheet)
    words = text_of(page)
    assert "No spare part, nor any two together, would" in words
    # 20 - 2 x 0.8.
    assert "a gear of at most 18.4 mm" in words
    # 18.60 + 2 x 0.8.
    assert "rear tyres of at least 20.2 mm" in words


def test_work_without_a_part_is_told_with_its_caution(
    client: Client, scrutineer: Person
) -> None:
    rules = (builders.rule("9", "rollout", upper=17.5),)
    edition = builders.make_edition(rules)
    night = builders.make_night(edition)
    # 20 pi 9 / 32 = 17.67; at 19.80 it would be 17.49.
    gear = garage.gear(32, "17.00")
    car = garage.make_car(on_car={PartPosition.GEAR: gear})
    entry = builders.make_entry(car=car, night=night)
    sheet = builders.make_sheet(entry=entry, by=scrutineer)
    act = builders.act(scrutineer, minutes=3)
    builders.send_back(sheet.number, act=act)
    words = text_of(remedies(client, sheet))
    assert "True both rear tyres down to 19.80 mm." in words
    assert "Truing throws rubber" in words


def test_car_whose_room_is_not_known_gets_remedies_marked_so(
    client: Client, scrutineer: Person
) -> None:
    garage.gear(30, "16.00")
    sheet = sent_back(low_car(room={}), scrutineer)
    page = remedies(client, sheet)
    (line,) = page.context["remedies"].lines
    assert not line.fit_checked
    assert "whether it goes on is not checked" in text_of(page)


def test_two_changes_of_which_one_is_enough_are_not_shown(
    client: Client, scrutineer: Person
) -> None:
    part = garage.gear(30, "16.00")
    garage.motor()
    garage.tyre("20.00")
    garage.tyre("20.02")
    sheet = sent_back(low_car(), scrutineer)
    lines = remedies(client, sheet).context["remedies"].lines
    assert [line.tags for line in lines] == [part.tag]


def test_car_without_measured_tyres_is_told_to_measure_them(
    client: Client, scrutineer: Person
) -> None:
    bare = builders.make_part(), builders.make_part()
    places = PartPosition.REAR_LEFT, PartPosition.REAR_RIGHT
    car = garage.make_car(on_car=dict(zip(places, bare, strict=True)))
    sheet = sent_back(car, scrutineer)
    assert "Measure the diameters of both rear tyres" in text_of(
        remedies(client, sheet)
    )


@pytest.mark.parametrize(
    ("tags", "said"),
    [
        ("", "No part was chosen."),
        ("X9X9X9", "There is no part X9X9X9."),
        ("{tyre}", "One tyre was chosen; a pair was expected"),
        ("{gear}+{other}", "another gear was chosen for its place"),
        ("{kept}", "is reserved for"),
        ("{retired}", "is “retired”"),
    ],
)
def test_part_that_cannot_be_handed_out_is_refused_and_nothing_written(
    client: Client, scrutineer: Person, tags: str, said: str
) -> None:
    named = {
        "tyre": garage.tyre("20.40"),
        "gear": garage.gear(30, "16.00"),
        "other": garage.gear(30, "16.00"),
        "kept": garage.gear(30, "16.00"),
        "retired": garage.gear(30, "16.00"),
    }
    somebody = builders.make_person()
    reserve_part(named["kept"], act=builders.act(somebody))
    retire_part(named["retired"], reason="Worn out.", act=builders.act())
    sheet = sent_back(low_car(), scrutineer)
    before = PartMove.objects.count(), AuditRow.objects.count()
    page = hand_out(
        client, sheet, tags.format(**{n: part.tag for n, part in named.items()})
    )
    assert said in text_of(page)
    assert (PartMove.objects.count(), AuditRow.objects.count()) == before


def test_part_kept_for_the_owner_may_be_handed_out(
    client: Client, scrutineer: Person
) -> None:
    part, car = garage.gear(30, "16.00"), low_car()
    reserve_part(part, act=builders.act(car.owner))
    sheet = sent_back(car, scrutineer)
    assert part.tag in [
        line.tags for line in remedies(client, sheet).context["remedies"].lines
    ]
    hand_out(client, sheet, part.tag)
    assert FittedPart.objects.filter(part=part, removed_at=None).exists()


def test_older_sheet_of_a_car_hands_nothing_out(
    client: Client, scrutineer: Person
) -> None:
    part = garage.gear(30, "16.00")
    sheet = sent_back(low_car(), scrutineer)
    call_back(sheet.entry_id, act=builders.act(scrutineer, minutes=4))
    start_sheet(
        sheet.entry_id, block=None, changed=(), act=builders.act(scrutineer, minutes=5)
    )
    assert "Hand out" not in text_of(remedies(client, sheet))
    assert "is not the last of a car" in text_of(hand_out(client, sheet, part.tag))


def test_owner_sees_and_reserves_and_hands_nothing_out(
    client_of: Callable[[Person], Client], scrutineer: Person
) -> None:
    part, car = garage.gear(30, "16.00"), low_car()
    sheet = sent_back(car, scrutineer)
    owner = client_of(car.owner)
    words = text_of(remedies(owner, sheet))
    assert "Reserve for me" in words
    assert "Hand out" not in words
    address = f"/sheet/{sheet.number}/remedies/hand-out"
    assert owner.post(address, {"tags": part.tag}).status_code == 403
    assert remedies(client_of(builders.make_person()), sheet).status_code == 404


def test_sheet_that_is_none_is_not_found(client: Client, scrutineer: Person) -> None:
    assert client.get("/sheet/1-1/remedies").status_code == 404
    answer = client.post("/sheet/1-1/remedies/hand-out", {"tags": "G1"})
    assert answer.status_code == 404


def test_car_that_meets_every_rule_needs_no_remedy(
    client: Client, scrutineer: Person
) -> None:
    sheet = on_block(garage.make_car(), scrutineer)
    page = remedies(client, sheet)
    assert "No rule keeps this car from passing." in text_of(page)


def test_keeper_is_not_asked_to_hand_out_on_the_block(
    client_of: Callable[[Person], Client], scrutineer: Person
) -> None:
    sheet = sent_back(low_car(), scrutineer)
    keeper = client_of(builders.make_person(Role.PARTS_KEEPER))
    assert remedies(keeper, sheet).status_code == 404


def test_rounding_crosses_no_limit_on_a_sheet(
    client: Client, scrutineer: Person
) -> None:
    """A gear of 18.4008 clears by 10 - 9.2004 = 0.7996, 0.0004 short of 0.80."""
    gear = garage.gear(36, "18.4008", hub="6.00")
    sheet = on_block(garage.make_car(on_car={PartPosition.GEAR: gear}), scrutineer)
    (found,) = (one for one in loaded(sheet.number).findings if one.rule.number == "1")
    assert (found.short_by, found.lower_text) == ("0.0004 mm", "0.80 mm")
    page = text_of(client.get(f"/sheet/{sheet.number}"))
    assert '<span class="part">.7996</span>' in page
    assert "0.0004 mm outside; at least 0.80 mm" in page
