"""Readings on the block: what is written, what is asked, what is refused."""

import datetime as dt
import uuid

import pytest

from inspection.actions.readings import strike_reading
from inspection.compute.judging.outcomes import DecisionRule, Outcome
from inspection.compute.night.entries import ReadingKind
from inspection.compute.rulebooks.requirements import Answer
from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.models import Sheet, SheetReading, Strike
from inventory.actions.refusals import RefusedError
from inventory.compute.measuring.gauges import GaugeMode as Mode
from inventory.compute.measuring.instruments import CheckKind, CheckResult, Instrument
from inventory.compute.numbers.units import Unit
from inventory.models import AuditRow, GaugeMode, Person
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def scrutineer() -> Person:
    return builders.make_scrutineer()


@pytest.fixture
def sheet(scrutineer: Person) -> Sheet:
    return builders.make_sheet(by=scrutineer)


@pytest.fixture
def caliper() -> GaugeMode:
    return builders.make_gauge()


@pytest.fixture
def scale() -> GaugeMode:
    return builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)


def outcome(sheet: Sheet, number: str) -> Outcome:
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    return next(f.outcome for f in loaded.findings if f.rule.number == number)


def test_reading_is_written_with_all_that_was_typed(
    sheet: Sheet, caliper: GaugeMode, scrutineer: Person
) -> None:
    taken = builders.read(
        sheet, "tyre_diameter_rear_left", "18,42 mm", gauge=caliper, by=scrutineer
    )
    row = SheetReading.objects.get()
    assert taken.reading == row
    assert (row.text, row.value, row.unit_typed) == ("18,42 mm", 18_420_000, "mm")
    assert row.by == scrutineer
    assert row.gauge_check_id is not None
    assert not row.was_asked_about


def test_inch_fraction_is_kept_exactly(sheet: Sheet, caliper: GaugeMode) -> None:
    # 3/4 in = 19.05 mm exactly (C9-01).
    builders.read(sheet, "tyre_diameter_rear_left", "3/4in", gauge=caliper)
    assert SheetReading.objects.get().value == 19_050_000


def test_same_reading_sent_twice_is_one_row(sheet: Sheet, caliper: GaugeMode) -> None:
    reading_id = uuid.uuid4()
    for _ in range(2):
        taken = builders.read(
            sheet,
            "tyre_diameter_rear_left",
            "18.4",
            gauge=caliper,
            reading_id=reading_id,
        )
    assert SheetReading.objects.count() == 1
    assert taken.reading is not None


def test_reading_that_another_sheet_has_is_refused_with_its_number(
    sheet: Sheet, caliper: GaugeMode
) -> None:
    reading_id, column = uuid.uuid4(), "tyre_diameter_rear_left"
    builders.read(sheet, column, "18.4", gauge=caliper, reading_id=reading_id)
    other = builders.make_sheet()
    with pytest.raises(RefusedError) as refusal:
        builders.read(other, column, "18.4", gauge=caliper, reading_id=reading_id)
    assert refusal.value.code == "reading_id_taken"
    assert sheet.number in refusal.value.sentence
    assert not other.readings.exists()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("18.4x", "text"),
        ("", "text"),
        ("1e309", "text"),
        ("9" * 200, "text"),
        ("1.234,5", "text"),
        ("NaN", "text"),
    ],
)
def test_text_that_is_no_number_is_refused_beside_its_field(
    sheet: Sheet, caliper: GaugeMode, text: str, expected: str
) -> None:
    with pytest.raises(RefusedError) as refusal:
        builders.read(sheet, "tyre_diameter_rear_left", text, gauge=caliper)
    assert refusal.value.field == expected
    assert "Tyre" in refusal.value.sentence
    assert not SheetReading.objects.exists()


@pytest.mark.parametrize(
    ("text", "suggestion"),
    [
        ("184.2", "18.42"),  # slip of the decimal, ten times
        ("1.842", "18.42"),
        ("0.7252", "18.42"),  # 18.42 mm in inches: 0.7252 (C9-01)
        ("-0.8", ""),
        ("55", ""),
    ],
)
def test_implausible_reading_is_asked_about_and_not_written(
    sheet: Sheet, caliper: GaugeMode, text: str, suggestion: str
) -> None:
    taken = builders.read(sheet, "tyre_diameter_rear_left", text, gauge=caliper)
    assert taken.reading is None
    assert taken.question is not None
    assert taken.question.suggestion == suggestion
    assert text in taken.question.sentence
    assert not SheetReading.objects.exists()


def test_confirmed_reading_is_written_and_marked(
    sheet: Sheet, caliper: GaugeMode
) -> None:
    builders.read(
        sheet, "tyre_diameter_rear_left", "55", gauge=caliper, is_confirmed=True
    )
    assert SheetReading.objects.get().was_asked_about


def test_reading_far_from_the_last_one_is_asked_about(
    sheet: Sheet, caliper: GaugeMode
) -> None:
    builders.read(sheet, "tyre_diameter_rear_left", "18.40", gauge=caliper)
    taken = builders.read(sheet, "tyre_diameter_rear_left", "19.40", gauge=caliper)
    assert taken.question is not None
    assert "18.40" in taken.question.sentence


def test_quantity_the_rulebook_does_not_ask_is_refused(
    sheet: Sheet, caliper: GaugeMode
) -> None:
    with pytest.raises(RefusedError) as refusal:
        builders.read(sheet, "body_width", "60", gauge=caliper)
    assert refusal.value.code == "not_asked"


@pytest.mark.parametrize(
    ("checked", "days", "code"),
    [
        (CheckResult.FAILED, 365, "gauge_barred"),
        (None, 365, "gauge_barred"),
        (CheckResult.PASSED, 1, "gauge_barred"),
    ],
)
def test_gauge_that_may_not_be_used_is_refused(
    sheet: Sheet, checked: CheckResult | None, days: int, code: str
) -> None:
    gauge = builders.make_gauge(
        checked=checked,
        check_every_days=days,
        at=builders.NOW - dt.timedelta(days=2),
    )
    with pytest.raises(RefusedError) as refusal:
        builders.read(sheet, "tyre_diameter_rear_left", "18.4", gauge=gauge)
    assert refusal.value.code == code
    assert refusal.value.field == "gauge"
    assert not SheetReading.objects.exists()


def test_gauge_of_another_unit_is_refused(sheet: Sheet, scale: GaugeMode) -> None:
    with pytest.raises(RefusedError) as refusal:
        builders.read(sheet, "tyre_diameter_rear_left", "18.4", gauge=scale)
    assert refusal.value.code == "gauge_of_other_unit"


def test_reading_without_a_gauge_is_refused(sheet: Sheet) -> None:
    with pytest.raises(RefusedError) as refusal:
        builders.read(sheet, "tyre_diameter_rear_left", "18.4")
    assert refusal.value.code == "gauge_missing"


def test_page_that_could_offer_no_gauge_is_told_why(
    sheet: Sheet, scale: GaugeMode
) -> None:
    builders.check(scale.gauge, CheckResult.FAILED)
    with pytest.raises(RefusedError) as refusal:
        builders.read(sheet, "weight_car", "92")
    assert refusal.value.code == "gauge_missing"
    assert f"{scale.gauge.name}: check failed" in refusal.value.sentence
    assert "which gauge" not in refusal.value.sentence


def test_gauge_without_a_check_tonight_is_warned_of(
    sheet: Sheet, caliper: GaugeMode
) -> None:
    first = builders.read(sheet, "tyre_diameter_rear_left", "18.4", gauge=caliper)
    builders.check(caliper.gauge, CheckResult.PASSED, kind=CheckKind.TONIGHT)
    second = builders.read(sheet, "tyre_diameter_rear_right", "18.4", gauge=caliper)
    assert first.warning == "no check tonight"
    assert second.warning == "good"


def test_looked_at_item_is_answered_yes_or_no(sheet: Sheet) -> None:
    with pytest.raises(RefusedError) as refusal:
        builders.read(sheet, "motor_sealed")
    assert refusal.value.field == "answer"
    builders.read(sheet, "motor_sealed", answer=Answer.NO)
    assert outcome(sheet, "3") is Outcome.FAIL


def test_repeats_of_one_person_and_gauge_are_averaged(
    sheet: Sheet, scale: GaugeMode, scrutineer: Person
) -> None:
    for text in ("80.2", "80.4"):
        builders.read(sheet, "weight_car", text, gauge=scale, by=scrutineer)
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    assert loaded.values["weight_car"].value == pytest.approx(80.3)


def test_two_people_who_disagree_are_shown_and_hold_up_the_seal(
    sheet: Sheet, scale: GaugeMode, scrutineer: Person
) -> None:
    second = builders.make_scrutineer()
    builders.read(sheet, "weight_car", "85.0", gauge=scale, by=scrutineer)
    builders.read(sheet, "weight_car", "86.0", gauge=scale, by=second)
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    assert loaded.values["weight_car"].value == pytest.approx(86.0)
    assert [value.column for value in loaded.conflicts] == ["weight_car"]
    with pytest.raises(RefusedError) as refusal:
        builders.send_back(sheet.number, act=builders.act(scrutineer))
    assert refusal.value.code == "readings_disagree"


def clearance_sheet() -> Sheet:
    rules = (builders.rule("1", "clearance_rear", lower=0.8),)
    night = builders.make_night(builders.make_edition(rules))
    return builders.make_sheet(entry=builders.make_entry(night=night))


def conflicts(sheet: Sheet) -> list[str]:
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    return [value.column for value in loaded.conflicts]


def test_slip_and_caliper_that_disagree_are_noticed(scrutineer: Person) -> None:
    sheet = clearance_sheet()
    slips = builders.make_gauge(instrument=Instrument.SLIP_GAUGE)
    caliper = builders.make_gauge()
    said = {"by": scrutineer}
    builders.read(
        sheet, "clearance_rear", "0.8", answer=Answer.YES, gauge=slips, **said
    )
    builders.read(sheet, "clearance_rear", "0.82", gauge=caliper, **said)
    assert conflicts(sheet) == []
    second = builders.make_scrutineer()
    builders.read(sheet, "clearance_rear", "0.5", gauge=caliper, by=second)
    # Against the caliper of the first and against the slip that went.
    assert conflicts(sheet) == ["clearance_rear"]


def test_two_slips_and_a_caliper_that_disagree_are_noticed(scrutineer: Person) -> None:
    sheet = clearance_sheet()
    slips = builders.make_gauge(instrument=Instrument.SLIP_GAUGE)
    builders.read(
        sheet, "clearance_rear", "0.9", high_text="1.0", gauge=slips, by=scrutineer
    )
    builders.read(
        sheet, "clearance_rear", "0.7", gauge=builders.make_gauge(), by=scrutineer
    )
    assert conflicts(sheet) == ["clearance_rear"]


def test_readings_before_and_after_a_check_are_two_sets(
    sheet: Sheet, scale: GaugeMode, scrutineer: Person
) -> None:
    builders.read(sheet, "weight_car", "80.2", gauge=scale, by=scrutineer)
    builders.check(scale.gauge, CheckResult.PASSED, kind=CheckKind.TONIGHT)
    builders.read(sheet, "weight_car", "81.4", gauge=scale, by=scrutineer)
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    # They were averaged, and the jump went unseen.
    assert loaded.values["weight_car"].value == pytest.approx(81.4)
    assert conflicts(sheet) == ["weight_car"]


def test_two_modes_of_one_caliper_are_two_sets(
    sheet: Sheet, caliper: GaugeMode, scrutineer: Person
) -> None:
    depth = GaugeMode.objects.create(
        gauge=caliper.gauge,
        mode=Mode.DEPTH,
        unit=caliper.unit,
        resolution=caliper.resolution,
        max_permissible_error=caliper.max_permissible_error,
    )
    column = "tyre_diameter_rear_left"
    builders.read(sheet, column, "18.40", gauge=caliper, by=scrutineer)
    builders.read(sheet, column, "18.60", gauge=depth, by=scrutineer)
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    assert loaded.values[column].value == pytest.approx(18.60)
    assert conflicts(sheet) == [column]


def test_struck_reading_stays_and_no_longer_counts(
    sheet: Sheet, scale: GaugeMode, scrutineer: Person
) -> None:
    taken = builders.read(sheet, "weight_car", "85.0", gauge=scale, by=scrutineer)
    assert taken.reading is not None
    assert outcome(sheet, "1") is Outcome.PASS
    with pytest.raises(RefusedError):
        strike_reading(
            sheet.number, taken.reading.pk, reason=" ", act=builders.act(scrutineer)
        )
    strike_reading(
        sheet.number, taken.reading.pk, reason="breathed on", act=builders.act()
    )
    assert outcome(sheet, "1") is Outcome.NOT_MEASURED
    assert SheetReading.objects.count() == Strike.objects.count() == 1
    assert AuditRow.objects.filter(event="reading.struck").exists()
    with pytest.raises(RefusedError) as refusal:
        strike_reading(sheet.number, taken.reading.pk, reason="x", act=builders.act())
    assert refusal.value.code == "struck_already"


def test_interval_of_two_slips_is_kept_as_both() -> None:
    rules = (builders.rule("1", "clearance_rear", lower=0.8),)
    sheet = builders.make_sheet(
        entry=builders.make_entry(
            night=builders.make_night(builders.make_edition(rules))
        )
    )
    slips = builders.make_gauge(instrument=Instrument.SLIP_GAUGE)
    with pytest.raises(RefusedError) as refusal:
        builders.read(sheet, "clearance_rear", "1.0", high_text="0.9", gauge=slips)
    assert refusal.value.field == "high_text"
    builders.read(sheet, "clearance_rear", "0.9", high_text="1.0", gauge=slips)
    row = SheetReading.objects.get()
    assert (row.kind, row.low, row.high) == (ReadingKind.INTERVAL, 900_000, 1_000_000)
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    assert loaded.findings[0].value == pytest.approx(0.95)
    assert loaded.findings[0].is_taken


@pytest.mark.parametrize(
    ("answer", "expected"), [(Answer.YES, Outcome.PASS), (Answer.NO, Outcome.FAIL)]
)
def test_limit_slip_that_goes_is_a_pass(answer: Answer, expected: Outcome) -> None:
    rules = (builders.rule("1", "clearance_rear", lower=0.8),)
    sheet = builders.make_sheet(
        entry=builders.make_entry(
            night=builders.make_night(builders.make_edition(rules))
        )
    )
    slips = builders.make_gauge(instrument=Instrument.SLIP_GAUGE)
    builders.read(sheet, "clearance_rear", "0.8", answer=answer, gauge=slips)
    assert SheetReading.objects.get().kind == ReadingKind.GO_GAUGE
    assert outcome(sheet, "1") is expected


def test_sealed_sheet_takes_no_reading(sheet: Sheet, scale: GaugeMode) -> None:
    seal = builders.send_back(sheet.number, act=builders.act())
    with pytest.raises(RefusedError) as refusal:
        builders.read(sheet, "weight_car", "85", gauge=scale)
    assert refusal.value.code == "sheet_sealed"
    assert seal.sealed_by.name in refusal.value.sentence
    assert not SheetReading.objects.exists()


@pytest.mark.parametrize(
    ("low", "high", "rule", "expected"),
    [
        ("1.00", "1.02", DecisionRule.GUARDED_ACCEPTANCE, Outcome.PASS),
        ("0.98", "1.00", DecisionRule.GUARDED_REJECTION, Outcome.FAIL),
    ],
)
def test_limit_slip_of_two_decides_on_the_block(
    low: str, high: str, rule: DecisionRule, expected: Outcome
) -> None:
    rules = (builders.rule("1", "clearance_rear", lower=1.0),)
    edition = builders.make_edition(rules, decision_rule=rule)
    sheet = builders.make_sheet(
        entry=builders.make_entry(night=builders.make_night(edition))
    )
    slips = builders.make_gauge(instrument=Instrument.SLIP_GAUGE)
    builders.read(sheet, "clearance_rear", low, high_text=high, gauge=slips)
    assert outcome(sheet, "1") is expected
