"""A gauge that fails in the night, and a wrong seal: what the chief rules."""

import datetime as dt

import pytest
from django.test import Client

from inspection.actions.race_nights import close_night
from inspection.actions.readings import strike_doubtful
from inspection.actions.rulings.questions import rule_on_doubt
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import reopen_car
from inspection.compute.judging import Outcome
from inspection.compute.night import Decision, EntryState, PartPosition, Ruling
from inspection.compute.rulebooks import Answer, Stage
from inspection.loaders.block.doubts import doubts_of, sheets_in_doubt
from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.loaders.block.steps import load_steps
from inspection.models import Edition, Entry, Seal, Sheet, SheetRuling
from inventory.actions.people.roles import give_role
from inventory.actions.refusals import RefusedError
from inventory.compute.measuring import CheckResult, Instrument
from inventory.compute.numbers import Unit
from inventory.compute.roles import Role
from inventory.models import AuditRow, GaugeMode, Person
from tests import builders

pytestmark = pytest.mark.django_db

REAR = ("tyre_diameter_rear_left", "tyre_diameter_rear_right")
WHY = "the other caliper says the same"


@pytest.fixture
def caliper() -> GaugeMode:
    return builders.make_gauge()


@pytest.fixture
def chief() -> Person:
    return builders.make_person(Role.CHIEF_SCRUTINEER)


def measure(sheet: Sheet, caliper: GaugeMode) -> None:
    scale = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    builders.read(sheet, "weight_car", "85", gauge=scale)
    for column in REAR:
        builders.read(sheet, column, "18.5", gauge=caliper)
    builders.read(sheet, "motor_sealed", answer=Answer.YES)


@pytest.fixture
def passed(caliper: GaugeMode) -> Sheet:
    sheet = builders.make_sheet()
    measure(sheet, caliper)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(minutes=3))
    return sheet


def fail(caliper: GaugeMode, *, minutes: int = 4) -> int:
    at = builders.NOW + dt.timedelta(minutes=minutes)
    builders.check(caliper.gauge, CheckResult.FAILED, at=at)
    return caliper.gauge.checks.latest("taken_at").pk


def columns_of(sheet: Sheet) -> set[str]:
    return set(sheet.readings.values_list("column", flat=True))


def state_of(sheet: Sheet) -> str:
    return Entry.objects.get(pk=sheet.entry_id).state


def rule(sheet: Sheet, check: int, ruling: Ruling, reason: str = WHY) -> SheetRuling:
    return rule_on_doubt(
        sheet.number, check, ruling=ruling, reason=reason, act=builders.act(minutes=6)
    )


def test_open_sheet_does_not_pass_on_a_gauge_that_failed(caliper: GaugeMode) -> None:
    sheet = builders.make_sheet()
    measure(sheet, caliper)
    before = load_sheet(sheets_to_load().get(pk=sheet.pk))
    assert before.may_pass
    check = fail(caliper)
    after = load_sheet(sheets_to_load().get(pk=sheet.pk))
    assert not after.may_pass
    assert len(after.doubtful_ids) == 2
    with pytest.raises(RefusedError) as refusal:
        seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(minutes=5))
    assert refusal.value.code == "gauge_failed"
    assert caliper.gauge.name in refusal.value.sentence
    struck = strike_doubtful(sheet.number, check, act=builders.act(minutes=5))
    assert len(struck) == 2
    with pytest.raises(RefusedError) as refusal:
        strike_doubtful(sheet.number, check, act=builders.act(minutes=5))
    assert refusal.value.code == "not_in_doubt"
    good = builders.make_gauge()
    for column in REAR:
        builders.read(sheet, column, "18.5", gauge=good)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(minutes=5))
    assert not doubts_of(sheet.pk)


def test_what_was_read_before_the_last_good_check_stays_good(
    caliper: GaugeMode,
) -> None:
    sheet = builders.make_sheet()
    measure(sheet, caliper)
    good = builders.NOW + dt.timedelta(minutes=3)
    builders.check(caliper.gauge, CheckResult.PASSED, at=good)
    fail(caliper)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(minutes=5))
    assert not doubts_of(sheet.pk)


def test_sealed_sheet_that_stands_is_in_doubt_no_longer(
    passed: Sheet, caliper: GaugeMode
) -> None:
    check = fail(caliper)
    assert sheets_in_doubt(caliper.gauge)
    rule(passed, check, Ruling.STANDS)
    assert state_of(passed) == EntryState.PASSED
    [doubt] = doubts_of(passed.pk)[passed.pk]
    assert doubt.ruling is not None
    assert not sheets_in_doubt(caliper.gauge)
    with pytest.raises(RefusedError) as refusal:
        rule(passed, check, Ruling.VOID)
    assert refusal.value.code == "ruled_already"


def test_sheet_to_be_measured_again_keeps_what_is_in_no_doubt(
    passed: Sheet, caliper: GaugeMode
) -> None:
    rule(passed, fail(caliper), Ruling.AGAIN)
    again = Sheet.objects.latest("id")
    assert again.previous == passed
    assert columns_of(again) == {"weight_car", "motor_sealed"}
    assert state_of(passed) == EntryState.ON_BLOCK


def test_sheet_ruled_void_lends_nothing_to_the_next(
    passed: Sheet, caliper: GaugeMode
) -> None:
    rule(passed, fail(caliper), Ruling.VOID)
    assert columns_of(Sheet.objects.latest("id")) == set()
    assert Seal.objects.get(sheet=passed).decision == Decision.PASSED


def test_car_that_was_sent_back_waits_when_it_is_to_be_measured_again(
    caliper: GaugeMode,
) -> None:
    sheet = builders.make_sheet()
    builders.read(sheet, REAR[0], "18.5", gauge=caliper)
    builders.send_back(sheet.number, act=builders.act(minutes=3))
    rule(sheet, fail(caliper), Ruling.AGAIN)
    assert state_of(sheet) == EntryState.WAITING
    again = builders.make_sheet(entry=sheet.entry)
    assert REAR[0] not in columns_of(again)


def test_ruling_wants_a_reason_a_doubt_and_an_open_night_to_measure_again(
    passed: Sheet, caliper: GaugeMode
) -> None:
    check = fail(caliper)
    with pytest.raises(RefusedError) as refusal:
        rule(passed, check, Ruling.STANDS, reason="hm")
    assert refusal.value.field == "reason"
    with pytest.raises(RefusedError) as refusal:
        rule(passed, check + 99, Ruling.STANDS)
    assert refusal.value.code == "not_in_doubt"
    close_night(passed.entry.night, act=builders.act(minutes=5))
    with pytest.raises(RefusedError) as refusal:
        rule(passed, check, Ruling.AGAIN)
    assert refusal.value.code == "night_closed"
    assert not SheetRuling.objects.exists()
    rule(passed, check, Ruling.VOID)
    assert state_of(passed) == EntryState.PASSED


def test_who_sealed_a_sheet_leaves_the_ruling_to_another_who_may(
    passed: Sheet, caliper: GaugeMode, chief: Person
) -> None:
    check = fail(caliper)
    give_role(passed.seal.sealed_by, Role.CHIEF_SCRUTINEER, act=builders.act())
    with pytest.raises(RefusedError) as refusal:
        rule(passed, check, Ruling.STANDS)
    assert refusal.value.code == "own_seal"
    assert not SheetRuling.objects.exists()
    sealer, other = Client(), Client()
    sealer.force_login(passed.seal.sealed_by)
    other.force_login(chief)
    record, page = f"/sheet/{passed.number}", f"/sheet/{passed.number}/doubt/{check}"
    assert page not in sealer.get(record).content.decode()
    assert "You sealed this sheet" in sealer.get(record).content.decode()
    said = {"ruling": "stands", "reason": WHY}
    refused = sealer.post(page, said)
    assert refused.status_code == 422
    assert "somebody else who may rule" in refused.content.decode()
    assert page in other.get(record).content.decode()
    assert other.post(page, said).status_code == 302
    assert not SheetRuling.objects.get().is_by_sealer
    assert "had sealed the sheet" not in other.get(record).content.decode()


def test_who_races_the_car_leaves_the_ruling_to_another_who_may(
    passed: Sheet, caliper: GaugeMode, chief: Person
) -> None:
    check, owner = fail(caliper), passed.entry.car.owner
    give_role(owner, Role.CHIEF_SCRUTINEER, act=builders.act())
    client = Client()
    client.force_login(owner)
    record, page = f"/sheet/{passed.number}", f"/sheet/{passed.number}/doubt/{check}"
    assert page not in client.get(record).content.decode()
    refused = client.post(page, {"ruling": "stands", "reason": WHY})
    assert refused.status_code == 422
    assert "yours or your family’s to race" in refused.content.decode()
    assert not SheetRuling.objects.exists()
    act = builders.act(chief, minutes=6)
    ruled = rule_on_doubt(
        passed.number, check, ruling=Ruling.STANDS, reason=WHY, act=act
    )
    assert ruled.by == chief


def test_who_sealed_a_sheet_rules_where_nobody_else_may_and_it_says_so(
    passed: Sheet, caliper: GaugeMode
) -> None:
    """Another chief who is concerned in the car is no other hand."""
    owner = passed.entry.car.owner
    give_role(owner, Role.CHIEF_SCRUTINEER, act=builders.act())
    made = rule(passed, fail(caliper), Ruling.STANDS)
    assert made.is_by_sealer
    assert AuditRow.objects.get(event="sheet.ruled").detail["is_by_sealer"]
    client = Client()
    client.force_login(owner)
    shown = client.get(f"/sheet/{passed.number}").content.decode()
    assert "Who ruled had sealed the sheet as well." in shown


def test_doubt_and_ruling_are_on_the_board_the_block_and_the_owners_sheet(
    passed: Sheet, caliper: GaugeMode, chief: Person
) -> None:
    other = builders.make_sheet(entry=builders.make_entry(night=passed.entry.night))
    measure(other, caliper)
    check = fail(caliper)
    owner, boss = Client(), Client()
    owner.force_login(passed.entry.car.owner)
    boss.force_login(chief)
    assert f"in doubt: {caliper.gauge.name}" in owner.get("/").content.decode()
    record = f"/sheet/{passed.number}"
    assert "In doubt until the chief" in owner.get(record).content.decode()
    assert "Rule on it" not in owner.get(record).content.decode()
    assert "Rule on it" in boss.get(record).content.decode()
    block = boss.get(f"/sheet/{other.number}/block").content.decode()
    assert f"{caliper.gauge.name} failed its check" in block
    assert "Seal: passed" not in block
    boss.post(f"/sheet/{other.number}/doubt/{check}/strike")
    assert not doubts_of(other.pk)
    page = f"/sheet/{passed.number}/doubt/{check}"
    assert caliper.gauge.name in boss.get(page).content.decode()
    refused = boss.post(page, {"ruling": "stands", "reason": "hm"})
    assert refused.status_code == 422
    assert "hm" in refused.content.decode()
    assert boss.post(page, {"ruling": "stands", "reason": WHY}).status_code == 302
    assert WHY in owner.get(record).content.decode()
    assert "in doubt" not in owner.get("/").content.decode()


def test_wrong_seal_is_reopened_with_what_is_said_to_stand(passed: Sheet) -> None:
    again = reopen_car(
        passed.entry_id,
        reason="the scale was not set to zero",
        stands=[*REAR, "motor_sealed"],
        block=None,
        act=builders.act(minutes=5),
    )
    assert again.previous == passed
    assert again.stage == Stage.BEFORE
    assert columns_of(again) == {*REAR, "motor_sealed"}
    with pytest.raises(RefusedError) as refusal:
        seal_sheet(again.number, decision=Decision.PASSED, act=builders.act(minutes=6))
    assert refusal.value.code == "rules_not_admitted"


def test_sheet_on_which_nothing_was_done_is_not_sealed_again(passed: Sheet) -> None:
    again = reopen_car(
        passed.entry_id,
        reason="the scale was not set to zero",
        stands=[*REAR, "motor_sealed", "weight_car"],
        block=None,
        act=builders.act(minutes=5),
    )
    with pytest.raises(RefusedError) as refusal:
        seal_sheet(again.number, decision=Decision.PASSED, act=builders.act(minutes=6))
    assert refusal.value.code == "sheet_unchanged"
    assert passed.number in refusal.value.sentence
    scale = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    builders.read(again, "weight_car", "84", gauge=scale)
    seal_sheet(again.number, decision=Decision.PASSED, act=builders.act(minutes=6))
    assert Seal.objects.count() == 2


def test_only_what_was_read_on_a_car_that_passed_can_stand(passed: Sheet) -> None:
    reason = "the scale was not set to zero"
    with pytest.raises(RefusedError) as refusal:
        reopen_car(
            passed.entry_id,
            reason=reason,
            stands=["track_rear"],
            block=None,
            act=builders.act(),
        )
    assert refusal.value.field == "stands"
    waiting = builders.make_entry(night=passed.entry.night)
    with pytest.raises(RefusedError) as refusal:
        reopen_car(waiting.pk, reason=reason, block=None, act=builders.act())
    assert refusal.value.code == "not_passed"


def test_reopening_page_offers_what_was_read(passed: Sheet, chief: Person) -> None:
    client = Client()
    client.force_login(chief)
    page = f"/entry/{passed.entry_id}/reopen"
    assert "18.5" in client.get(page).content.decode()
    answer = client.post(
        page, {"reason": "the scale was not set to zero", "stands": list(REAR)}
    )
    again = Sheet.objects.latest("id")
    assert answer.status_code == 302
    assert columns_of(again) == set(REAR)


def geometry_of(entry: Entry, caliper: GaugeMode) -> Sheet:
    """Put a car on the block, read its wheelbase, and leave the sheet open."""
    sheet = builders.make_sheet(entry=entry)
    for side in ("left", "right"):
        builders.read(sheet, f"wheelbase_{side}", "95.0", gauge=caliper)
    return sheet


def outcomes(sheet: Sheet) -> list[Outcome]:
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    return [finding.outcome for finding in loaded.findings]


@pytest.fixture
def long_car(caliper: GaugeMode) -> Sheet:
    """Pass a car on its wheelbase, which is its stored geometry since."""
    builders.make_edition([builders.rule("1", "wheelbase", lower=90)])
    night = builders.make_night(Edition.objects.get())
    sheet = geometry_of(builders.make_entry(night=night), caliper)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(minutes=3))
    return sheet


def test_stored_geometry_read_with_a_gauge_that_failed_is_read_anew(
    long_car: Sheet, caliper: GaugeMode
) -> None:
    """What was struck as in doubt does not come back as the car's own geometry."""
    fail(caliper)
    reopen_car(long_car.entry_id, reason=WHY, block=None, act=builders.act(minutes=5))
    again = Sheet.objects.latest("id")
    assert outcomes(again) == [Outcome.NOT_MEASURED]
    with pytest.raises(RefusedError):
        seal_sheet(again.number, decision=Decision.PASSED, act=builders.act(minutes=5))
    good = builders.make_gauge()
    for side in ("left", "right"):
        builders.read(again, f"wheelbase_{side}", "95.0", gauge=good)
    assert outcomes(again) == [Outcome.PASS]


def test_stored_geometry_stands_where_the_chief_ruled_that_it_does(
    long_car: Sheet, caliper: GaugeMode
) -> None:
    check = fail(caliper)
    other_night = builders.make_night(Edition.objects.get())
    entry = builders.make_entry(car=long_car.entry.car, night=other_night)
    next_sheet = builders.make_sheet(entry=entry)
    assert outcomes(next_sheet) == [Outcome.NOT_MEASURED]
    rule(long_car, check, Ruling.STANDS)
    assert outcomes(next_sheet) == [Outcome.PASS]


def test_reopened_sheet_asks_geometry_that_is_not_said_to_stand(
    long_car: Sheet, caliper: GaugeMode
) -> None:
    """Another car was on the block, say: what its sheet read is not this car's own."""
    reopen_car(long_car.entry_id, reason=WHY, block=None, act=builders.act(minutes=5))
    again = Sheet.objects.latest("id")
    assert outcomes(again) == [Outcome.NOT_MEASURED]
    for side in ("left", "right"):
        builders.read(again, f"wheelbase_{side}", "95.0", gauge=caliper)
    assert outcomes(again) == [Outcome.PASS]


@pytest.fixture
def tyred_car(caliper: GaugeMode) -> Sheet:
    """Pass a car whose rear tyres, parts of the club, were read on the block."""
    builders.make_edition([builders.rule("1", "tyre_diameter_rear", lower=17)])
    car = builders.make_car()
    for position in (PartPosition.REAR_LEFT, PartPosition.REAR_RIGHT):
        builders.fit(car, builders.make_part(), position)
    night = builders.make_night(Edition.objects.get())
    sheet = builders.make_sheet(entry=builders.make_entry(car=car, night=night))
    for column in REAR:
        builders.read(sheet, column, "18.5", gauge=caliper)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(minutes=3))
    return sheet


def test_reopened_sheet_asks_what_the_seal_told_the_parts(tyred_car: Sheet) -> None:
    reopen_car(tyred_car.entry_id, reason=WHY, block=None, act=builders.act(minutes=5))
    again = load_sheet(sheets_to_load().latest("id"))
    assert [finding.outcome for finding in again.findings] == [Outcome.NOT_MEASURED]
    asked = {step.column for step in load_steps(again, []) if step.is_asked}
    assert asked >= set(REAR)


def test_size_of_a_part_read_with_a_gauge_that_failed_is_read_anew(
    tyred_car: Sheet, caliper: GaugeMode
) -> None:
    other_night = builders.make_night(Edition.objects.get())
    entry = builders.make_entry(car=tyred_car.entry.car, night=other_night)
    next_sheet = builders.make_sheet(entry=entry)
    assert outcomes(next_sheet) == [Outcome.PASS]
    check = fail(caliper)
    assert outcomes(next_sheet) == [Outcome.NOT_MEASURED]
    client = Client()
    client.force_login(builders.make_scrutineer())
    block = client.get(f"/sheet/{next_sheet.number}/block").content.decode()
    assert "in question; read it again" in block
    assert "only declared" not in block
    rule(tyred_car, check, Ruling.STANDS)
    assert outcomes(next_sheet) == [Outcome.PASS]
