"""
Rows that never change: each table, each statement, below the ORM (R8).

A raw connection tries what a shell or a stray script could; the database itself
refuses.  INSERT OR REPLACE is SQLite's own way to delete without saying so.
"""

import uuid
from collections.abc import Callable

import pytest
from django.db import IntegrityError, connection, models, transaction

from inspection.actions.jigs import save_jig
from inspection.actions.readings import strike_reading
from inspection.actions.seals import seal_sheet
from inspection.compute.entries import Decision
from inspection.models import (
    Edition,
    EntryMove,
    Finding,
    Rule,
    RuleClass,
    SavedJig,
    Seal,
    SealInputs,
    Sheet,
    SheetReading,
    Strike,
)
from inventory.compute.instruments import Instrument
from inventory.compute.units import Unit
from inventory.models import (
    AuditRow,
    Batch,
    BatchPart,
    Draw,
    DrawLot,
    GaugeCheck,
    PartEstimate,
    PartMove,
    PartReading,
    PartSet,
    SetMember,
)
from tests import builders
from tests.inventory import bags

pytestmark = pytest.mark.django_db

KEPT: dict[type[models.Model], tuple[str, str]] = {
    AuditRow: ("event", "'x'"),
    Batch: ("name", "'x'"),
    BatchPart: ("position", "9"),
    Draw: ("seed", "'x'"),
    DrawLot: ("position", "9"),
    GaugeCheck: ("note", "'x'"),
    PartEstimate: ("value", "1"),
    PartMove: ("note", "'x'"),
    PartReading: ("value", "1"),
    PartSet: ("spread", "9"),
    SetMember: ("position", "9"),
    EntryMove: ("reason", "'x'"),
    Sheet: ("number", "'x'"),
    SheetReading: ("value", "1"),
    Strike: ("reason", "'x'"),
    Finding: ("outcome", "'pass'"),
    Seal: ("content", "'{}'"),
    SealInputs: ("columns", "'x'"),
    Edition: ("note", "'x'"),
    Rule: ("lower", "1"),
    RuleClass: ("race_class_id", "1"),
    SavedJig: ("typed", "'{}'"),
}


@pytest.fixture
def history() -> None:
    """Make one row at least of every kept table."""
    bags.make_bags()
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
    seal_sheet(sheet.number, decision=Decision.SENT_BACK, act=builders.act())


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


@pytest.mark.parametrize("model", KEPT, ids=lambda model: model.__name__)
@pytest.mark.parametrize("statement", [update, delete, upsert])
def test_kept_row_refuses_every_statement(
    history: None, model: type[models.Model], statement: Callable[[str, str, str], str]
) -> None:
    assert model._default_manager.exists()
    column, value = KEPT[model]
    assert refused(statement(model._meta.db_table, column, value))


@pytest.mark.sqlite
@pytest.mark.parametrize("model", KEPT, ids=lambda model: model.__name__)
@pytest.mark.parametrize("recursive", ["ON", "OFF"])
def test_kept_row_refuses_replace_on_any_connection(
    history: None, model: type[models.Model], recursive: str
) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA recursive_triggers={recursive}")
    column, value = KEPT[model]
    try:
        assert refused(replace(model._meta.db_table, column, value))
    finally:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA recursive_triggers=ON")


@pytest.mark.postgresql
@pytest.mark.parametrize("model", KEPT, ids=lambda model: model.__name__)
def test_kept_table_refuses_truncate(history: None, model: type[models.Model]) -> None:
    with connection.cursor() as cursor:
        # What the test's own transaction still has to check would stand in the way.
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    assert refused(f"TRUNCATE {model._meta.db_table} CASCADE")


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
