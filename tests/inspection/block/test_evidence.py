"""What may stand behind a verdict: nothing passes that nobody has read."""

import json
import re
from dataclasses import replace

import pytest
from django.test import Client

from inspection.actions.cars import store_geometry
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import start_sheet
from inspection.compute.asking import READINGS_A_NIGHT, Area
from inspection.compute.judging.outcomes import Outcome
from inspection.compute.night.entries import Decision, PartPosition
from inspection.compute.quantities.sources import Source
from inspection.compute.rulebooks.requirements import Answer, Evidence
from inspection.loaders.block.sheets import LoadedSheet, load_sheet, sheets_to_load
from inspection.loaders.block.steps import StepKind, load_steps
from inspection.models import CarValue, Edition, Entry, RaceNight, Sheet
from inventory.actions.readings import record_part_readings
from inventory.actions.refusals import RefusedError
from inventory.compute.measuring.instruments import Instrument
from inventory.compute.numbers.units import Unit
from inventory.compute.roles import Role
from inventory.compute.stock.words import PartQuantity
from inventory.loaders.gauges import load_gauges
from inventory.models import GaugeMode, Person
from tests import builders
from tests.browser import race_night
from tests.inspection import sealed_cars

pytestmark = pytest.mark.django_db

SIDES = ("left", "right")


@pytest.fixture
def caliper() -> GaugeMode:
    return builders.make_gauge()


@pytest.fixture
def scale() -> GaugeMode:
    return builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)


@pytest.fixture
def scrutineer() -> Person:
    return builders.make_scrutineer()


def loaded(sheet: Sheet) -> LoadedSheet:
    return load_sheet(sheets_to_load().get(pk=sheet.pk))


def outcomes(sheet: Sheet) -> dict[str, Outcome]:
    return {found.rule.number: found.outcome for found in loaded(sheet).findings}


def read_all(sheet: Sheet, caliper: GaugeMode, scale: GaugeMode) -> None:
    builders.read(sheet, "weight_car", "85", gauge=scale)
    for side in SIDES:
        builders.read(sheet, f"tyre_diameter_rear_{side}", "18.5", gauge=caliper)
    builders.read(sheet, "motor_sealed", answer=Answer.YES)


def refused(sheet: Sheet, decision: Decision, by: Person, reason: str = "") -> str:
    """Give the code by which a seal is refused; nothing was written."""
    with pytest.raises(RefusedError) as refusal:
        seal_sheet(sheet.number, decision=decision, act=builders.act(by), reason=reason)
    assert not Sheet.objects.filter(pk=sheet.pk, seal__isnull=False).exists()
    return refusal.value.code


def with_measured_tyres(caliper: GaugeMode) -> Entry:
    """Enter a car whose rear tyres the keeper has measured."""
    car, keeper = builders.make_car(), builders.make_person(Role.PARTS_KEEPER)
    for position in (PartPosition.REAR_LEFT, PartPosition.REAR_RIGHT):
        tyre = builders.make_part()
        record_part_readings(
            tyre,
            PartQuantity.TYRE_DIAMETER,
            ["18.5"],
            gauge=load_gauges(builders.NOW, pk=caliper.pk)[0],
            act=builders.act(keeper),
        )
        builders.fit(car, tyre, position)
    return builders.make_entry(
        car=car, night=builders.make_night(Edition.objects.last())
    )


def test_after_the_race_nothing_is_carried_and_nothing_stored_stands_in(
    caliper: GaugeMode, scale: GaugeMode, scrutineer: Person
) -> None:
    entry = with_measured_tyres(caliper)
    before = builders.make_sheet(entry=entry, by=scrutineer)
    read_all(before, caliper, scale)
    seal_sheet(before.number, decision=Decision.PASSED, act=builders.act(scrutineer))
    after = start_sheet(entry.pk, block=None, changed=(), act=builders.act(scrutineer))
    assert not after.readings.exists()
    assert set(outcomes(after).values()) == {Outcome.NOT_MEASURED}
    builders.read(after, "weight_car", "85", gauge=scale)
    assert refused(after, Decision.PASSED, scrutineer) == "rules_not_admitted"
    assert set(loaded(after).unread) == {
        "tyre_diameter_rear_left",
        "tyre_diameter_rear_right",
        "motor_sealed",
    }


@pytest.mark.parametrize("evidence", list(Evidence))
def test_what_the_keeper_measured_stands_in_unless_a_rule_wants_it_taken(
    caliper: GaugeMode, scrutineer: Person, evidence: Evidence
) -> None:
    builders.make_edition(
        [builders.rule("1", "tyre_diameter_rear", lower=18, evidence=evidence)]
    )
    sheet = builders.make_sheet(entry=with_measured_tyres(caliper), by=scrutineer)
    assert outcomes(sheet) == {"1": Outcome.PASS}
    found = loaded(sheet)
    if evidence is Evidence.TAKEN_ONLY:
        assert not found.may_pass
        assert refused(sheet, Decision.PASSED, scrutineer) == "asked_not_read"
    else:
        assert [value.column for value in found.standing_in] == [
            "tyre_diameter_rear_left",
            "tyre_diameter_rear_right",
        ]
        assert all(value.said_by and value.part_tag for value in found.standing_in)
        seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(scrutineer))


def test_summary_before_the_seal_follows_what_is_read(
    caliper: GaugeMode, scrutineer: Person
) -> None:
    # No rule's outcome changes by it: the size that was stored is read as it was.
    builders.make_edition([builders.rule("1", "tyre_diameter_rear", lower=18)])
    sheet = builders.make_sheet(entry=with_measured_tyres(caliper), by=scrutineer)
    client = Client()
    client.force_login(scrutineer)
    address = f"/sheet/{sheet.number}/block"
    page = client.get(address).content.decode()
    stands, read = "what is stored stands:", "Tyre diameter, rear, left"
    assert read in page[page.index(stands) :].split("</p>")[0]
    have = " ".join(re.findall(r'data-tag="(\w+)"', page))
    builders.read(
        sheet, "tyre_diameter_rear_left", "18.50", gauge=caliper, by=scrutineer
    )
    asked = {"have": have}
    news = client.get(address, asked, headers={"accept": "application/json"}).json()
    verdict = news["pieces"]["verdict"]
    assert read not in verdict[verdict.index(stands) :].split("</p>")[0]


def test_an_advisory_reading_that_is_asked_is_missed_too(
    caliper: GaugeMode, scale: GaugeMode, scrutineer: Person
) -> None:
    builders.make_edition(
        [
            builders.rule("1", "weight_car", lower=80),
            builders.rule("2", "guide_depth", upper=9, force="advisory"),
        ]
    )
    entry = builders.make_entry(night=builders.make_night(Edition.objects.get()))
    sheet = builders.make_sheet(entry=entry, by=scrutineer)
    builders.read(sheet, "weight_car", "85", gauge=scale)
    assert refused(sheet, Decision.PASSED, scrutineer) == "asked_not_read"
    builders.read(sheet, "guide_depth", "7.5", gauge=caliper)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(scrutineer))


@pytest.mark.parametrize("stored_by", ["owner", "driver", "member", "scrutineer"])
def test_only_what_somebody_unconcerned_measured_proves_a_rule(
    scrutineer: Person, stored_by: str
) -> None:
    builders.make_edition([builders.rule("1", "wheelbase", lower=90)])
    owner = builders.make_person(Role.SCRUTINEER)
    driver = builders.make_person(Role.PARTS_KEEPER)
    people = {
        "owner": owner,
        "driver": driver,
        "member": builders.make_person(),
        "scrutineer": scrutineer,
    }
    car = builders.make_car(owner=owner)
    store_geometry(
        car,
        {f"wheelbase_{side}": "95.0" for side in SIDES},
        taken_with=None,
        act=builders.act(people[stored_by]),
    )
    night = builders.make_night(Edition.objects.get())
    entry = builders.make_entry(car=car, night=night, driver=driver)
    sheet = builders.make_sheet(entry=entry)
    found = loaded(sheet).findings[0]
    # It counts for what to look at: the figure is shown, whoever said it.
    assert {value.value for value in found.rests_on} == {95.0}
    if stored_by == "scrutineer":
        assert found.outcome is Outcome.PASS
        assert {value.said_by for value in found.rests_on} == {scrutineer.name}
    else:
        assert found.outcome is Outcome.NOT_MEASURED
        assert {value.column for value in found.declared} == {
            "wheelbase_left",
            "wheelbase_right",
        }
        steps = {step.column: step for step in load_steps(loaded(sheet), [])}
        assert all(steps[value.column].is_asked for value in found.declared)


def test_geometry_read_on_the_block_stands_on_the_next_night(
    caliper: GaugeMode, scrutineer: Person
) -> None:
    builders.make_edition([builders.rule("1", "wheelbase", lower=90)])
    car = builders.make_car()
    sheet = builders.make_sheet(entry=_entry(car), by=scrutineer)
    for side in SIDES:
        builders.read(sheet, f"wheelbase_{side}", "95.0", gauge=caliper, by=scrutineer)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(scrutineer))
    second = builders.make_sheet(entry=_entry(car), by=scrutineer)
    found = loaded(second)
    assert found.values["wheelbase_left"].source is Source.STORED
    assert found.values["wheelbase_left"].said_by == scrutineer.name
    # One reading, rectangular: MPE 0.02 mm over the root of three (JCGM 100 4.3.7).
    assert found.values["wheelbase_left"].systematic == pytest.approx(
        0.0115470, abs=1e-6
    )
    assert outcomes(second) == {"1": Outcome.PASS}
    assert not [s for s in load_steps(found, []) if s.is_asked and not s.is_done]


def test_second_night_of_a_car_asks_at_most_fifteen_readings() -> None:
    """60 to 90 seconds a car (common practice, no source)."""
    club = race_night.make_club()
    car = builders.make_car()
    first = race_night.make_sheet(club, car)
    at_first = readings_asked_now(first)
    values = {**race_night.GEOMETRY, **race_night.GOOD}
    takes = {step.column for step in load_steps(loaded(first), []) if step.is_asked}
    race_night.take(club, first, {c: v for c, v in values.items() if c in takes})
    assert not readings_asked_now(first)
    assert sealed_cars.seal(club, first).seal.decision == Decision.PASSED
    again = replace(club, night=builders.make_night(first.edition))
    second = readings_asked_now(race_night.make_sheet(again, car))
    assert 0 < len(second) <= READINGS_A_NIGHT < len(at_first)
    assert second < at_first


def readings_asked_now(sheet: Sheet) -> set[str]:
    """Give what the block asks by itself, but for what is looked at."""
    steps = load_steps(loaded(sheet), [])
    asked = (step for step in steps if step.is_asked and not step.is_done)
    return {step.column for step in asked if step.kind is not StepKind.LOOK}


def test_what_was_changed_stands_no_longer_until_it_is_read(
    caliper: GaugeMode, scrutineer: Person
) -> None:
    builders.make_edition([builders.rule("1", "wheelbase", lower=90)])
    car = builders.make_car(
        geometry={f"wheelbase_{side}": "95.0" for side in SIDES}, gauge=caliper
    )
    changed = start_sheet(
        _entry(car).pk,
        block=None,
        changed=[Area.REAR_AXLE],
        act=builders.act(scrutineer),
    )
    assert outcomes(changed) == {"1": Outcome.NOT_MEASURED}
    for side in SIDES:
        builders.read(changed, f"wheelbase_{side}", "95.1", gauge=caliper)
    assert outcomes(changed) == {"1": Outcome.PASS}


def test_word_of_the_owner_proves_nothing_until_a_scrutineer_stores_it(
    caliper: GaugeMode, scrutineer: Person
) -> None:
    """How an axle was held while its height was read decides how level it is."""
    builders.make_edition([builders.rule("1", "axle_level", lower=-1, upper=1)])
    sizes = {f"axle_height_rear_{side}": "8.5" for side in SIDES}
    sizes |= {"axle_station_span_rear": "30", "axle_diameter": "2.38"}
    sizes |= {"width_rear": "64", "tyre_width_rear": "9"}
    car = builders.make_car(geometry=sizes, gauge=caliper)
    sheet = builders.make_sheet(entry=_entry(car), by=scrutineer)
    assert outcomes(sheet)["1"] is not Outcome.NOT_MEASURED
    for by, proves in ((car.owner, False), (scrutineer, True)):
        CarValue.objects.filter(column="axle_held").update(superseded_at=builders.NOW)
        CarValue.objects.create(
            car=car,
            column="axle_held",
            value=0,
            text="held up",
            taken_at=builders.NOW,
            by=by,
            is_declared=not proves,
        )
        found = loaded(sheet).findings[0]
        assert (found.outcome is not Outcome.NOT_MEASURED) == proves
        assert [value.column for value in found.declared] == (
            [] if proves else ["axle_held"]
        )
        assert found.has_declared_words != proves
        assert "axle_held" not in loaded(sheet).to_take.stored


def test_what_was_only_declared_stays_a_step_once_it_is_read(
    caliper: GaugeMode, scrutineer: Person
) -> None:
    """Else the page would go on asking for a step that it knows no more."""
    builders.make_edition([builders.rule("1", "axle_level", lower=-1, upper=1)])
    sizes = {f"axle_height_rear_{side}": "8.5" for side in SIDES}
    sizes |= {
        "axle_station_span_rear": "30",
        "width_rear": "64",
        "tyre_width_rear": "9",
    }
    car = builders.make_car(geometry=sizes, gauge=caliper)
    own = builders.act(car.owner)
    store_geometry(car, {"axle_diameter": "2.38"}, taken_with=None, act=own)
    sheet = builders.make_sheet(entry=_entry(car), by=scrutineer)

    def asked() -> dict[str, bool]:
        steps = load_steps(loaded(sheet), [])
        return {step.column: step.is_done for step in steps if step.is_asked}

    assert asked()["axle_diameter"] is False
    builders.read(sheet, "axle_diameter", "2.38", gauge=caliper, by=scrutineer)
    assert asked()["axle_diameter"] is True


def test_first_sheet_of_a_night_asks_what_was_changed(
    caliper: GaugeMode, scrutineer: Person
) -> None:
    builders.make_edition([builders.rule("1", "wheelbase", lower=90)])
    car = builders.make_car(
        geometry={f"wheelbase_{side}": "95.0" for side in SIDES}, gauge=caliper
    )
    entry = _entry(car)
    client = Client()
    client.force_login(scrutineer)
    page = f"/entry/{entry.pk}/block"
    assert f'value="{Area.REAR_AXLE}"' in client.get(page).content.decode()
    client.post(page, {"block": "", "changed": [Area.REAR_AXLE]})
    assert outcomes(Sheet.objects.get()) == {"1": Outcome.NOT_MEASURED}


def _entry(car: object) -> Entry:
    night = builders.make_night(Edition.objects.get())
    return builders.make_entry(car=car, night=night)  # type: ignore[arg-type]


def test_stored_figure_alone_sends_nobody_back(
    caliper: GaugeMode, scrutineer: Person
) -> None:
    builders.make_edition([builders.rule("1", "wheelbase", lower=96)])
    car = builders.make_car(
        geometry={f"wheelbase_{side}": "95.0" for side in SIDES}, gauge=caliper
    )
    sheet = builders.make_sheet(entry=_entry(car), by=scrutineer)
    assert outcomes(sheet) == {"1": Outcome.FAIL}
    assert refused(sheet, Decision.SENT_BACK, scrutineer) == "nothing_found"
    chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    assert refused(sheet, Decision.SENT_BACK, chief, "no") == "reason_missing"
    for side in SIDES:
        builders.read(sheet, f"wheelbase_{side}", "95.0", gauge=caliper)
    seal_sheet(sheet.number, decision=Decision.SENT_BACK, act=builders.act(scrutineer))


def test_chief_sends_back_by_word_and_the_seal_says_it() -> None:
    sheet = builders.make_sheet()
    seal = builders.send_back(sheet.number, act=builders.act())
    assert json.loads(seal.content)["reason"] == "The rear wheels rub on the body."
    entry = Entry.objects.get(pk=sheet.entry_id)
    assert (
        entry.moves.get(to_state="sent back").reason
        == "The rear wheels rub on the body."
    )


@pytest.mark.parametrize("who", ["owner", "driver"])
def test_geometry_is_locked_to_owner_and_driver_from_the_first_sheet(who: str) -> None:
    car, driver = builders.make_car(), builders.make_person()
    person = car.owner if who == "owner" else driver
    texts = {"wheelbase_left": "95.0"}
    entry = builders.make_entry(car=car, driver=driver)
    store_geometry(car, texts, taken_with=None, act=builders.act(person))
    builders.make_sheet(entry=entry)
    with pytest.raises(RefusedError) as refusal:
        store_geometry(car, texts, taken_with=None, act=builders.act(person))
    assert refusal.value.code == "under_inspection"
    assert CarValue.objects.filter(column="wheelbase_left").count() == 1
    RaceNight.objects.update(closed_at=builders.NOW)
    store_geometry(car, texts, taken_with=None, act=builders.act(person))
