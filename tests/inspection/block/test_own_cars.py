"""A car of one's own or of one's family: others put it on the block and seal it."""

import json
from collections.abc import Callable

import pytest
from django.test import Client

from inspection.actions.race_nights import call_back
from inspection.actions.readings import strike_doubtful, strike_reading
from inspection.actions.sheets import reopen_car
from inspection.compute.rulebooks import Answer
from inspection.loaders.night.board import load_board
from inspection.loaders.seals.held_sheets import differences_of_night
from inspection.models import Entry, Seal, Sheet, SheetReading
from inventory.actions.club import ClubSettings, settle_club
from inventory.actions.people.families import declare_family
from inventory.actions.refusals import RefusedError
from inventory.compute.measuring import CheckResult, Instrument
from inventory.compute.numbers import Unit
from inventory.compute.roles import Role
from inventory.models import GaugeMode, Person
from tests import builders

pytestmark = pytest.mark.django_db

WHY = "it was put on the wrong way"
ENDS = (
    "measured or sealed by the owner, the driver or their family",
    "measured or sealed by its owner, its driver or their family",
)


@pytest.fixture
def scale() -> GaugeMode:
    return builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)


@pytest.fixture
def scrutineer() -> Person:
    return builders.make_scrutineer()


def owns(person: Person) -> Entry:
    return builders.make_entry(car=builders.make_car(owner=person))


def drives(person: Person) -> Entry:
    return builders.make_entry(driver=person)


def is_family_of_the_driver(person: Person) -> Entry:
    driver = builders.make_person()
    declare_family(driver, person, act=builders.act())
    return builders.make_entry(driver=driver)


def is_family_of_the_owner(person: Person) -> Entry:
    entry = builders.make_entry(driver=builders.make_person())
    declare_family(person, entry.car.owner, act=builders.act())
    return entry


CONCERNED = [owns, drives, is_family_of_the_driver, is_family_of_the_owner]


def let_own_cars_be_measured() -> None:
    said = ClubSettings(name="The club", lets_own_cars_be_measured=True)
    settle_club(said, act=builders.act())


def refused(what: Callable[[], object]) -> None:
    with pytest.raises(RefusedError) as refusal:
        what()
    assert refusal.value.code == "own_car"


@pytest.mark.parametrize("concerned", CONCERNED)
def test_whoever_is_concerned_neither_puts_on_nor_measures_nor_seals(
    concerned: Callable[[Person], Entry], scrutineer: Person, scale: GaugeMode
) -> None:
    other = builders.make_scrutineer()
    entry = concerned(scrutineer)
    refused(lambda: builders.make_sheet(entry=entry, by=scrutineer))
    assert not Sheet.objects.exists()
    sheet = builders.make_sheet(entry=entry, by=other)
    refused(
        lambda: builders.read(sheet, "weight_car", "78", gauge=scale, by=scrutineer)
    )
    taken = builders.read(sheet, "weight_car", "78", gauge=scale, by=other).reading
    assert taken is not None
    assert not taken.is_own_car
    refused(
        lambda: strike_reading(
            sheet.number, taken.pk, reason=WHY, act=builders.act(scrutineer)
        )
    )
    builders.check(scale.gauge, CheckResult.FAILED, at=builders.act(minutes=3).at)
    failed = scale.gauge.checks.latest("pk").pk
    refused(lambda: strike_doubtful(sheet.number, failed, act=builders.act(scrutineer)))
    refused(lambda: builders.seal_as_read(sheet, by=scrutineer))
    assert not builders.seal_as_read(sheet, by=other).is_own_car


def test_whoever_is_not_concerned_does_all_of_it(
    scrutineer: Person, scale: GaugeMode
) -> None:
    """Family of somebody who has nothing to do with the car."""
    declare_family(scrutineer, builders.make_person(), act=builders.act())
    sheet = builders.make_sheet(by=scrutineer)
    builders.read(sheet, "weight_car", "78", gauge=scale, by=scrutineer)
    assert not builders.seal_as_read(sheet, by=scrutineer).is_own_car


def test_club_that_allows_it_has_own_cars_measured_and_marked_but_not_sealed(
    scrutineer: Person, scale: GaugeMode
) -> None:
    let_own_cars_be_measured()
    other = builders.make_scrutineer()
    sheet = builders.make_sheet(entry=owns(scrutineer), by=scrutineer)
    taken = builders.read(sheet, "weight_car", "78", gauge=scale, by=scrutineer).reading
    assert taken is not None
    assert taken.is_own_car
    refused(lambda: builders.seal_as_read(sheet, by=scrutineer))
    seal = builders.seal_as_read(sheet, by=other)
    assert not seal.is_own_car
    said = json.loads(seal.content)["readings"]
    assert [one["own_car"] for one in said] == [True]
    assert differences_of_night(sheet.entry.night) == []
    assert_marked(sheet, other)
    # What is carried over keeps its mark.
    call_back(sheet.entry_id, act=builders.act(other, minutes=4))
    read_well(builders.make_sheet(entry=sheet.entry, by=other), scale, other)
    again = Sheet.objects.latest("pk")
    marks = dict(again.readings.values_list("column", "is_own_car"))
    assert not marks["weight_car"]


def test_carried_reading_keeps_its_mark(scrutineer: Person, scale: GaugeMode) -> None:
    let_own_cars_be_measured()
    other = builders.make_scrutineer()
    sheet = builders.make_sheet(entry=owns(scrutineer), by=scrutineer)
    builders.read(sheet, "motor_sealed", answer=Answer.YES, by=scrutineer)
    builders.read(sheet, "weight_car", "78", gauge=scale, by=other)
    builders.seal_as_read(sheet, by=other)
    call_back(sheet.entry_id, act=builders.act(other, minutes=4))
    again = builders.make_sheet(entry=sheet.entry, by=other)
    carried = SheetReading.objects.get(sheet=again)
    assert (carried.column, carried.is_own_car) == ("motor_sealed", True)


def test_where_nobody_else_is_active_the_chief_does_it_and_it_is_marked(
    scale: GaugeMode,
) -> None:
    chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    gone, family = builders.make_scrutineer(), builders.make_scrutineer()
    Person.objects.filter(pk=gone.pk).update(is_active=False)
    declare_family(family, chief, act=builders.act())
    sheet = builders.make_sheet(entry=owns(chief), by=chief)
    refused(lambda: builders.read(sheet, "weight_car", "78", gauge=scale, by=family))
    read_well(sheet, scale, chief)
    seal = builders.seal_as_read(sheet, by=chief, passed=True)
    assert seal.is_own_car
    assert SheetReading.objects.filter(is_own_car=True).count() == 4
    assert_marked(sheet, chief)
    # Nobody else may reopen it either; with another chief there, they do.
    other = builders.make_person(Role.CHIEF_SCRUTINEER)
    refused(lambda: reopen(sheet, chief))
    Person.objects.filter(pk=other.pk).update(is_active=False)
    reopen(sheet, chief)
    assert Entry.objects.get(pk=sheet.entry_id).state == "on block"


def test_only_scrutineer_of_a_club_without_a_chief_leaves_the_own_car_alone(
    scrutineer: Person,
) -> None:
    refused(lambda: builders.make_sheet(entry=owns(scrutineer), by=scrutineer))


def test_block_says_who_inspects_and_keeps_what_was_typed(
    scrutineer: Person, scale: GaugeMode
) -> None:
    other = builders.make_scrutineer()
    entry = owns(scrutineer)
    client = Client()
    client.force_login(scrutineer)
    page = client.post(f"/entry/{entry.pk}/block", {"block": ""})
    assert page.status_code == 422
    assert "yours or your family’s" in page.content.decode()
    sheet = builders.make_sheet(entry=entry, by=other)
    assert (
        "yours or your family’s"
        in client.get(f"/sheet/{sheet.number}/block").content.decode()
    )
    answer = client.post(
        f"/sheet/{sheet.number}/reading",
        {
            "reading_id": "00000000-0000-4000-8000-000000000001",
            "column": "weight_car",
            "text": "83",
            "gauge": scale.pk,
        },
    )
    assert answer.status_code == 422
    assert "somebody else" in answer.content.decode()
    assert 'value="83"' in answer.content.decode()
    assert not SheetReading.objects.exists()


def read_well(sheet: Sheet, scale: GaugeMode, by: Person) -> None:
    caliper = builders.make_gauge()
    builders.read(sheet, "weight_car", "85", gauge=scale, by=by)
    for side in ("left", "right"):
        builders.read(sheet, f"tyre_diameter_rear_{side}", "18.5", gauge=caliper, by=by)
    builders.read(sheet, "motor_sealed", answer=Answer.YES, by=by)


def reopen(sheet: Sheet, by: Person) -> None:
    reopen_car(sheet.entry_id, reason=WHY, block=None, act=builders.act(by, minutes=9))


def assert_marked(sheet: Sheet, reader: Person) -> None:
    """On the sheet, the board and the night's list."""
    night = sheet.entry.night
    rows = [
        row
        for group in load_board(night, builders.act(minutes=5).at).groups
        for row in group.rows
    ]
    assert [row.is_by_concerned for row in rows] == [True]
    client = Client()
    client.force_login(reader)
    for address in ("/", f"/night/{night.pk}/list", f"/sheet/{sheet.number}"):
        words = client.get(address).content.decode()
        assert any(end in words for end in ENDS), address
    assert Seal.objects.filter(sheet=sheet).exists()
