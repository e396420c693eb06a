"""
Rows that never change: each table, each statement, below the ORM (R8).

A raw connection tries what a shell or a stray script could; the database itself
refuses.  INSERT OR REPLACE is SQLite's own way to delete without saying so.
"""

import uuid
from collections.abc import Callable, Iterable

import pytest
from django.db import IntegrityError, connection, models, transaction

from inspection.actions.jigs import save_jig
from inspection.actions.night.entries import not_here
from inspection.actions.night.reports import give_report
from inspection.actions.notes.motor_seals import break_motor_seal, put_on_motor_seal
from inspection.actions.notes.sheet_notes import note_on_sheet
from inspection.actions.race_nights import take_off_block
from inspection.actions.readings import strike_reading
from inspection.actions.rulings.editions import move_edition
from inspection.actions.rulings.held_cars import plan_sample, release_car
from inspection.actions.seal_checks import settle_night
from inspection.compute.night.entries import Decision
from inspection.compute.night.protests import ProtestRuling
from inspection.compute.night.rulings import Ruling
from inspection.models import (
    AuditLink,
    BrokenSeal,
    CarValue,
    Edition,
    EditionMove,
    EntryCall,
    EntryMove,
    Finding,
    HeldCar,
    JudgedAgain,
    MotorSeal,
    NightReport,
    NotePicture,
    Protest,
    ProtestHearer,
    ProtestRuled,
    ProtestSheet,
    ReleasedCar,
    Rule,
    RuleClass,
    Sample,
    SampleDraw,
    SampleVoid,
    SavedJig,
    Seal,
    SealCheck,
    SealContent,
    SealInputs,
    Sheet,
    SheetNote,
    SheetReading,
    SheetRuling,
    SheetVoid,
    Strike,
)
from inventory.actions.corrections.facts import PartCorrection, correct_part
from inventory.actions.corrections.strikes import strike_part_reading
from inventory.actions.gauges import strike_check
from inventory.compute.measuring.instruments import Instrument
from inventory.compute.numbers.units import Unit
from inventory.models import (
    AuditRow,
    Batch,
    BatchPart,
    CheckStrike,
    Draw,
    DrawLot,
    FactChange,
    GaugeCheck,
    Part,
    PartEstimate,
    PartMove,
    PartReading,
    PartSet,
    ReadingStrike,
    SetMember,
    Stocktake,
    StocktakeLine,
)
from tests import builders
from tests.inventory import bags

pytestmark = pytest.mark.django_db

KEPT: dict[type[models.Model], tuple[str, str]] = {
    AuditRow: ("event", "'x'"),
    Batch: ("name", "'x'"),
    CheckStrike: ("reason", "'x'"),
    BatchPart: ("position", "9"),
    Draw: ("seed", "'x'"),
    DrawLot: ("position", "9"),
    FactChange: ("reason", "'x'"),
    ReadingStrike: ("reason", "'x'"),
    StocktakeLine: ("tag", "'x'"),
    Stocktake: ("drawer", "'x'"),
    GaugeCheck: ("note", "'x'"),
    PartEstimate: ("value", "1"),
    PartMove: ("note", "'x'"),
    PartReading: ("value", "1"),
    PartSet: ("spread", "9"),
    SetMember: ("position", "9"),
    EntryCall: ("by_id", "1"),
    EntryMove: ("reason", "'x'"),
    Sheet: ("number", "'x'"),
    SheetReading: ("value", "1"),
    EditionMove: ("reason", "'x'"),
    JudgedAgain: ("decision", "'passed'"),
    Protest: ("claim", "'x'"),
    ProtestHearer: ("person_id", "1"),
    ProtestRuled: ("reason", "'x'"),
    ProtestSheet: ("sheet_id", "1"),
    HeldCar: ("reason", "'x'"),
    NightReport: ("standings", "'{}'"),
    ReleasedCar: ("by_id", "1"),
    Sample: ("seed", "'x'"),
    SampleDraw: ("by_id", "1"),
    SampleVoid: ("reason", "'x'"),
    SheetRuling: ("reason", "'x'"),
    SheetVoid: ("reason", "'x'"),
    Strike: ("reason", "'x'"),
    SheetNote: ("text", "'x'"),
    NotePicture: ("jpeg", "'x'"),
    MotorSeal: ("number", "'x'"),
    BrokenSeal: ("reason", "'x'"),
    Finding: ("outcome", "'pass'"),
    Seal: ("decision", "'passed'"),
    SealContent: ("packed", "'x'"),
    SealInputs: ("columns", "'x'"),
    SealCheck: ("difference_count", "9"),
    AuditLink: ("content", "'{}'"),
    Edition: ("note", "'x'"),
    Rule: ("lower", "1"),
    RuleClass: ("race_class_id", "1"),
    SavedJig: ("typed", "'{}'"),
}


@pytest.fixture
def history() -> None:
    """Make one row at least of every kept table."""
    bags.make_bags()
    _put_right()
    race_class = builders.make_class()
    rules = (
        builders.rule("1", "weight_car", lower=80, classes=(race_class.name,)),
        builders.rule("2", "tyre_diameter_rear", lower=18),
    )
    night = builders.make_night(builders.make_edition(rules))
    sheet = builders.make_sheet(entry=builders.make_entry(night=night))
    scale = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    taken = builders.read(sheet, "weight_car", "85", gauge=scale)
    assert taken.reading is not None
    strike_reading(sheet.number, taken.reading.pk, reason="grit", act=builders.act())
    save_jig(sheet.entry.car, {}, act=builders.act())
    note_on_sheet(sheet.number, "x", picture=builders.picture(), act=builders.act())
    seal = put_on_motor_seal(sheet.entry.car, "M 1", act=builders.act())
    break_motor_seal(seal, reason="the motor was opened", act=builders.act())
    builders.send_back(sheet.number, act=builders.act())
    mistake = builders.make_sheet(entry=builders.make_entry(night=night))
    take_off_block(mistake.entry_id, reason="wrong car", act=builders.act())
    not_here(mistake.entry_id, act=builders.act(minutes=9))
    check = scale.gauge.checks.get()
    strike_check(check, reason="typed for another", act=builders.act())
    SheetRuling.objects.create(
        sheet=sheet,
        gauge_check=check,
        ruling=Ruling.STANDS,
        reason="x",
        by=builders.make_admin(),
        at=builders.NOW,
    )
    move = move_edition(
        night,
        race_class,
        builders.make_edition(),
        reason="a misprint in it",
        act=builders.act(),
    )
    JudgedAgain.objects.get_or_create(
        move=move, sheet=sheet, defaults={"decision": Decision.PASSED}
    )
    _protest(sheet)
    _hold(sheet)
    give_report(night, act=builders.act())
    settle_night(night, act=builders.act())


def _put_right() -> None:
    part = Part.objects.filter(kind="tyre").first()
    assert part is not None
    said = PartCorrection(
        name="another", drawer="", version=part.version, reason="it was read wrongly"
    )
    correct_part(part, said, act=builders.act())
    reading = PartReading.objects.filter(estimate__superseded_at=None).latest("pk")
    strike_part_reading(reading, reason="the jaws were dirty", act=builders.act())
    taken = Stocktake.objects.create(
        drawer="A 1",
        by=builders.make_admin(),
        started_at=builders.NOW,
        closed_by=builders.make_admin(),
        closed_at=builders.NOW,
    )
    StocktakeLine.objects.create(stocktake=taken, tag="T1", counted="surplus")


def _protest(sheet: Sheet) -> None:
    by, at = builders.make_admin(), builders.NOW
    rule = Rule.objects.filter(edition=sheet.edition)[0]
    protest = Protest.objects.create(
        entry=sheet.entry, sheet=sheet, rule=rule, claim="x", by=by, at=at
    )
    ProtestHearer.objects.create(protest=protest, person=by, named_by=by, at=at)
    ProtestSheet.objects.create(protest=protest, sheet=sheet)
    ProtestRuled.objects.create(
        protest=protest, ruling=ProtestRuling.UPHELD, by=by, at=at, reason="x"
    )


def _hold(sheet: Sheet) -> None:
    by, at, entry = builders.make_admin(), builders.NOW, sheet.entry
    sample = plan_sample(entry.night, 1, act=builders.act())
    SampleDraw.objects.create(sample=sample, among=[], drawn=[], by=by, at=at)
    SampleVoid.objects.create(sample=sample, by=by, at=at, reason="x")
    held = HeldCar.objects.create(entry=entry, by=by, at=at, reason="x")
    release_car(held.pk, act=builders.act())


def refused(statement: str) -> bool:
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    except IntegrityError:
        return True
    return False


def update(table: str, column: str, value: str) -> str:
    return f"UPDATE {table} SET {column} = {value}"


def delete(table: str, column: str, value: str) -> str:
    return f"DELETE FROM {table}"


def replace(table: str, column: str, value: str) -> str:
    return f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}"


def upsert(table: str, column: str, value: str) -> str:
    return (
        f"INSERT INTO {table} SELECT * FROM {table} WHERE true "
        f"ON CONFLICT (id) DO UPDATE SET {column} = {value}"
    )


def let_through(statements: Iterable[str]) -> list[str]:
    """Give the statements that the database did not refuse; each is taken back."""
    return [statement for statement in statements if not refused(statement)]


def on_each(statement: Callable[[str, str, str], str]) -> list[str]:
    """Give one statement for every kept table."""
    return [statement(m._meta.db_table, *said) for m, said in KEPT.items()]


def test_every_kept_table_has_a_row_to_try(history: None) -> None:
    assert not [model for model in KEPT if not model._default_manager.exists()]


@pytest.mark.parametrize("statement", [update, delete, upsert])
def test_kept_row_refuses_every_statement(
    history: None, statement: Callable[[str, str, str], str]
) -> None:
    assert not let_through(on_each(statement))


@pytest.mark.sqlite
@pytest.mark.parametrize("recursive", ["ON", "OFF"])
def test_kept_row_refuses_replace_on_any_connection(
    history: None, recursive: str
) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA recursive_triggers={recursive}")
    try:
        assert not let_through(on_each(replace))
    finally:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA recursive_triggers=ON")


@pytest.mark.postgresql
def test_kept_table_refuses_truncate(history: None) -> None:
    with connection.cursor() as cursor:
        # What the test's own transaction still has to check would stand in the way.
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    tables = [model._meta.db_table for model in KEPT]
    assert not let_through(f"TRUNCATE {table} CASCADE" for table in tables)


def test_value_of_a_car_is_only_ever_superseded() -> None:
    car = builders.make_car(geometry={"wheelbase_left": "95.0"})
    table = CarValue._meta.db_table
    assert CarValue.objects.filter(car=car, superseded_at=None).exists()
    assert not let_through([update(table, "value", "value + 1"), delete(table, "", "")])


def test_an_entry_has_one_open_sheet() -> None:
    sheet = builders.make_sheet()

    def another(number: str) -> Sheet:
        with transaction.atomic():
            return Sheet.objects.create(
                number=number,
                entry=sheet.entry,
                edition=sheet.edition,
                stage=sheet.stage,
                started_at=builders.NOW,
                started_by=sheet.started_by,
            )

    with pytest.raises(IntegrityError, match="open sheet already"):
        another("second")
    take_off_block(sheet.entry_id, reason="wrong car", act=builders.act())
    third = another("third")
    with pytest.raises(IntegrityError, match="open sheet already"):
        another("fourth")
    SheetVoid.objects.create(
        sheet=third, by=sheet.started_by, at=builders.NOW, reason="x"
    )
    assert another("fifth").pk is not None


def test_rule_cannot_be_added_to_a_published_edition() -> None:
    edition = builders.make_edition()
    with pytest.raises(IntegrityError), transaction.atomic():
        Rule.objects.create(
            edition=edition,
            number="99",
            position=99,
            sentence="One more",
            quantity="weight_car",
            lower=1,
        )


@pytest.mark.parametrize("table", ["inspection_rulebook", "inspection_raceclass"])
@pytest.mark.parametrize("statement", [update, delete, upsert])
def test_name_that_a_published_edition_speaks_by_is_kept(
    history: None, table: str, statement: Callable[[str, str, str], str]
) -> None:
    assert refused(statement(table, "name", "'x'"))


@pytest.mark.sqlite
@pytest.mark.parametrize("table", ["inspection_rulebook", "inspection_raceclass"])
def test_name_that_a_published_edition_speaks_by_is_not_replaced(
    history: None, table: str
) -> None:
    assert refused(replace(table, "name", "'x'"))


def test_name_that_only_drafts_speak_by_can_be_changed() -> None:
    race_class = builders.make_class()
    rules = [builders.rule("1", "weight_car", lower=80, classes=(race_class.name,))]
    builders.make_edition(rules, published=False)
    race_class.name = "Saloons"
    race_class.save()
    race_class.rulebook.name = "Hall rules"
    race_class.rulebook.save()


def test_reading_cannot_be_added_to_a_sealed_sheet(history: None) -> None:
    row = SheetReading.objects.get()
    row.pk, row.reading_id = None, uuid.uuid4()
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)


def test_draft_can_be_changed_and_thrown_away() -> None:
    edition = builders.make_edition(published=False)
    Rule.objects.filter(edition=edition).update(sentence="Better")
    Rule.objects.filter(edition=edition).delete()
    edition.delete()
    assert not Edition.objects.exists()
