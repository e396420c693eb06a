"""What a car is, its layout and its front: its owner's word proves no rule."""

import json
import re
from importlib import import_module

import pytest
from django.apps import apps
from django.test import Client

from inspection.actions.cars import CarFacts, change_car, confirm_car, confirm_on_block
from inspection.actions.seals import seal_sheet
from inspection.compute.judging.outcomes import Outcome
from inspection.compute.night.entries import Decision
from inspection.compute.quantities.quantity import FrontCarrier, Layout
from inspection.compute.quantities.sources import Source
from inspection.loaders.block.sheets import LoadedSheet, load_sheet, sheets_to_load
from inspection.loaders.seals.held_sheets import differences_of_night
from inspection.models import Car, CarValue, Edition, Seal, Sheet
from inventory.actions.audit import Act
from inventory.actions.people.families import declare_family
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import GaugeMode, Person
from tests import builders

pytestmark = pytest.mark.django_db

#: Half the can's width of an in-line motor rests on the car's layout; the second rule
#: binds sidewinders alone.
RULES = (
    builders.rule("1", "can_half_width", upper=30),
    builders.rule(
        "2",
        "wheelbase",
        lower=90,
        condition_key="layout",
        condition_word="sidewinder",
    ),
)


@pytest.fixture
def caliper() -> GaugeMode:
    return builders.make_gauge()


@pytest.fixture
def scrutineer() -> Person:
    return builders.make_scrutineer()


def on_block(car: Car, caliper: GaugeMode, by: Person) -> Sheet:
    """Put a car on the block and read all that it is asked."""
    edition = Edition.objects.first() or builders.make_edition(RULES)
    entry = builders.make_entry(car=car, night=builders.make_night(edition))
    sheet = builders.make_sheet(entry=entry, by=by)
    builders.read(sheet, "can_width", "20.0", gauge=caliper, by=by)
    return sheet


def loaded(sheet: Sheet) -> LoadedSheet:
    return load_sheet(sheets_to_load().get(pk=sheet.pk))


def outcomes(sheet: Sheet) -> dict[str, Outcome]:
    return {found.rule.number: found.outcome for found in loaded(sheet).findings}


def seal(sheet: Sheet, by: Person) -> Seal:
    return seal_sheet(
        sheet.number, decision=Decision.PASSED, act=builders.act(by, minutes=9)
    )


def test_no_car_passes_on_its_owners_word_until_it_is_confirmed_on_the_block(
    caliper: GaugeMode, scrutineer: Person
) -> None:
    car = builders.make_car(is_confirmed=False)
    sheet = on_block(car, caliper, scrutineer)
    # The rule for sidewinders may bind it, for all that anybody has looked.
    assert outcomes(sheet) == {"1": Outcome.NOT_MEASURED, "2": Outcome.NOT_MEASURED}
    assert [value.column for value in loaded(sheet).unconfirmed] == ["layout"]
    with pytest.raises(RefusedError) as refusal:
        seal(sheet, scrutineer)
    assert refusal.value.code == "rules_not_admitted"
    client = Client()
    client.force_login(scrutineer)
    page = client.get(f"/sheet/{sheet.number}/block").content.decode()
    assert "Nobody who measures for the club has looked yet at what the car is" in page
    assert "Motor layout in-line" in page
    assert re.search(r"only declared, by [^)]*\d{4}\)", page)
    client.post(f"/sheet/{sheet.number}/as-stored")
    assert outcomes(sheet) == {"1": Outcome.PASS}
    assert loaded(sheet).unconfirmed == ()
    content = json.loads(seal(sheet, scrutineer).content)
    said = next(row for row in content["values"] if row["column"] == "layout")
    assert (said["source"], said["said_by"]) == (Source.STORED, scrutineer.pk)
    assert list(differences_of_night(sheet.entry.night)) == []


def test_a_sheet_sent_back_before_it_was_confirmed_holds(
    caliper: GaugeMode, scrutineer: Person
) -> None:
    sheet = on_block(builders.make_car(is_confirmed=False), caliper, scrutineer)
    chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    sealed = builders.send_back(sheet.number, act=builders.act(chief, minutes=9))
    found = {
        row["rule"]: row["outcome"] for row in json.loads(sealed.content)["findings"]
    }
    assert found == {"1": "not measured", "2": "not measured"}
    assert list(differences_of_night(sheet.entry.night)) == []


def test_it_stands_on_later_nights_until_the_owner_says_otherwise(
    caliper: GaugeMode, scrutineer: Person
) -> None:
    car = builders.make_car(is_confirmed=False)
    confirm_car(car, act=builders.act(scrutineer))
    assert outcomes(on_block(car, caliper, scrutineer)) == {"1": Outcome.PASS}
    other = builders.make_car()
    facts = CarFacts(
        number=other.number,
        name=other.name,
        owner=other.owner,
        race_class=other.race_class,
        layout=Layout.SIDEWINDER,
        front_carrier=FrontCarrier.FRONT_WHEELS,
    )
    changed = change_car(other, facts, act=builders.act(other.owner))
    sheet = on_block(changed, caliper, scrutineer)
    assert loaded(sheet).unconfirmed[0].said_by == other.owner.name
    confirm_on_block(sheet.number, act=builders.act(scrutineer, minutes=3))
    assert loaded(sheet).unconfirmed == ()


def test_whoever_is_concerned_confirms_nothing(
    caliper: GaugeMode, scrutineer: Person
) -> None:
    keeper = builders.make_person(Role.PARTS_KEEPER)
    relative = builders.make_person(Role.PARTS_KEEPER)
    car = builders.make_car(owner=keeper, is_confirmed=False)
    declare_family(keeper, relative, act=builders.act())
    for person in (keeper, relative, builders.make_person()):
        with pytest.raises(RefusedError) as refusal:
            confirm_car(Car.objects.get(pk=car.pk), act=builders.act(person))
        assert refusal.value.code == "own_car"
    # One who drives it tonight neither, though the car's page does not know them.
    driver = builders.make_scrutineer()
    edition = builders.make_edition(RULES)
    entry = builders.make_entry(
        car=car, night=builders.make_night(edition), driver=driver
    )
    sheet = builders.make_sheet(entry=entry, by=scrutineer)
    theirs = builders.act(driver, minutes=2)
    with pytest.raises(RefusedError):
        confirm_car(Car.objects.get(pk=car.pk), act=theirs)
    with pytest.raises(RefusedError):
        confirm_on_block(sheet.number, act=theirs)
    assert not CarValue.objects.current().filter(car=car, is_declared=False).exists()


def test_where_nobody_else_is_there_the_chief_looks_at_their_own_car(
    caliper: GaugeMode,
) -> None:
    chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    car = builders.make_car(owner=chief, is_confirmed=False)
    sheet = on_block(car, caliper, chief)
    assert outcomes(sheet)["1"] is Outcome.NOT_MEASURED
    confirm_on_block(sheet.number, act=builders.act(chief, minutes=2))
    assert outcomes(sheet) == {"1": Outcome.PASS}
    assert seal(sheet, chief).is_own_car
    # For that sheet; on the next night it is looked at again.
    again = on_block(car, caliper, chief)
    CarValue.objects.current().filter(car=car).update(
        taken_at=again.started_at.replace(year=2025)
    )
    assert outcomes(again)["1"] is Outcome.NOT_MEASURED


def test_old_cars_are_looked_at_by_who_sealed_their_last_sheet(
    caliper: GaugeMode, scrutineer: Person
) -> None:
    sealed, stored, neither = (builders.make_car() for _ in range(3))
    seal(on_block(sealed, caliper, scrutineer), scrutineer)
    CarValue.objects.current().update(superseded_at=builders.NOW)
    for person, at in ((scrutineer, 5), (stored.owner, 6)):
        CarValue.objects.create(
            car=stored,
            column=f"axle_height_rear_{'left' if at == 5 else 'right'}",
            value=8_500_000,
            text="8.5",
            taken_at=builders.act(minutes=at).at,
            by=person,
            is_declared=person == stored.owner,
        )
    fill = import_module("inspection.migrations.0037_who_says_what_a_car_is").fill
    fill(apps, None)
    words = CarValue.objects.current().filter(column__in=["layout", "front_carrier"])
    assert set(words.values_list("car", "column", "text", "by")) == {
        (car.pk, column, word, scrutineer.pk)
        for car in (sealed, stored)
        for column, word in (("layout", "in-line"), ("front_carrier", "front wheels"))
    }
    assert neither.pk not in set(words.values_list("car", flat=True))


def test_registering_for_somebody_else_is_looking_at_it(scrutineer: Person) -> None:
    keeper = builders.make_person(Role.PARTS_KEEPER)
    member = builders.make_person()
    for by, owner, proves in (
        (keeper, member, True),
        (keeper, keeper, False),
        (member, member, False),
    ):
        car = builders.make_car(owner=owner, is_confirmed=False)
        facts = CarFacts(
            number=car.number,
            name=car.name,
            owner=owner,
            race_class=car.race_class,
            layout=Layout.ANGLEWINDER,
            front_carrier=FrontCarrier(car.front_carrier),
        )
        change_car(car, facts, act=Act(by=by, at=builders.NOW))
        declared = (
            CarValue.objects.current()
            .filter(car=car)
            .values_list("is_declared", flat=True)
        )
        assert set(declared) == {not proves}
