"""Batches: whole or not at all, once, and in as many statements as tables."""

import dataclasses
import uuid

import pytest
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext

from inventory.actions import drafts
from inventory.actions.batches import (
    LARGE,
    NewBatch,
    NewBench,
    batch_of_draft,
    measure_tyre,
    start_bench,
    take_batch,
)
from inventory.actions.drafts import (
    NewDraft,
    drop_draft,
    read_again,
    read_draft,
    say_columns,
    upload_draft,
)
from inventory.actions.incoming import with_numbers
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import free_tags, retire_part
from inventory.compute.batches.rows import BatchRow
from inventory.compute.batches.words import BatchSource, DraftState
from inventory.compute.measuring.instruments import CheckResult
from inventory.compute.numbers.units import Unit
from inventory.compute.stock import GearFacts
from inventory.compute.stock.tags import read_tag
from inventory.compute.stock.words import (
    GearRole,
    Move,
    PartKind,
    PartQuantity,
    PartState,
    Section,
)
from inventory.files import limits
from inventory.files.columns import DecimalSign
from inventory.files.kept_tables import layout_from_json
from inventory.loaders.batches import Standing, load_bag
from inventory.loaders.incoming.checked_rows import check_rows
from inventory.loaders.incoming.previews import preview_draft
from inventory.models import (
    AuditRow,
    Batch,
    BatchDraft,
    BatchPart,
    Part,
    PartEstimate,
    PartMove,
    PartReading,
    Tyre,
)
from tests import builders
from tests.inventory import bags

pytestmark = pytest.mark.django_db

SPUR = GearFacts(role=GearRole.SPUR, teeth=28)
WRITTEN = (Batch, BatchPart, Part, Tyre, PartMove, PartEstimate, PartReading)


def count_all() -> list[int]:
    return [model.objects.count() for model in (*WRITTEN, AuditRow)]


def take(rows: list[BatchRow], **said: object) -> Batch:
    gauge = bags.gauge()
    new = NewBatch(name="Bag", gauge=gauge, **said)  # type: ignore[arg-type]
    checked = check_rows(rows, kind=PartKind.TYRE, gauge=gauge)
    return take_batch(new, checked, act=builders.act())


def test_batch_becomes_parts_with_readings_and_moves() -> None:
    rows = [
        bags.row("18.42", "18,44", "0.725in", number=2, tag="A1"),
        bags.row("18.50", number=3, words={"compound": "firm"}),
    ]
    batch = take(rows, words={"compound": "soft", "drawer": "A1"})
    first, second = (one.part for one in batch.members.select_related("part__tyre"))
    assert first.tag == "A1"
    assert read_tag(second.tag) == second.tag
    assert (first.tyre.compound, second.tyre.compound) == ("soft", "firm")
    assert first.drawer == "A1"
    assert first.moves.get().move == Move.RECEIVE
    estimate = first.estimates.get(quantity=PartQuantity.TYRE_DIAMETER)
    # (18.42 + 18.44 + 0.725 · 25.4)/3, by hand.
    assert estimate.value == 18_425_000
    assert [one.text for one in estimate.readings.all()] == [
        "18.42",
        "18,44",
        "0.725in",
    ]
    assert [one.angle_index for one in estimate.readings.all()] == [0, 1, 2]
    form = first.estimates.get(quantity=PartQuantity.OUT_OF_ROUND)
    # A range of 0.025 is less than scatter of 0.03 alone makes of three readings.
    assert form.value == 0
    said = {"rows": 2, "new": 2, "left_out": 0}
    assert AuditRow.objects.get(event="batch.taken").detail == said


def test_readings_at_the_edges_keep_their_section() -> None:
    row = BatchRow(
        number=1,
        tag="",
        readings=(
            bags.reading("18.40", section=Section.INNER),
            bags.reading("18.50", section=Section.OUTER),
        ),
    )
    part = take([row]).members.get().part
    taper = part.estimates.get(quantity=PartQuantity.TAPER)
    assert taper.value == 100_000
    sections = PartReading.objects.values_list("section", "angle_index")
    assert sorted(sections) == [("inner", 0), ("outer", 0)]


def test_five_thousand_tyres_take_as_many_statements_as_their_tables_need() -> None:
    def statements(count: int, name: str) -> int:
        rows = [
            bags.row("18.42", f"18.{n:05d}", number=n) for n in range(10_000, count)
        ]
        gauge = bags.gauge()
        checked = check_rows(rows, kind=PartKind.TYRE, gauge=gauge)
        with CaptureQueriesContext(connection) as asked:
            take_batch(NewBatch(name=name, gauge=gauge), checked, act=builders.act())
        return len(asked)

    few, many = statements(10_010, "few"), statements(10_510, "many")
    # Ten tyres and five hundred: the inserts go in portions, nothing goes by tyre.
    assert few <= 25
    assert many <= few + 60


@pytest.mark.postgresql
def test_large_batch_is_planned_for_at_once() -> None:
    bags.take_rows([bags.row("18.42", number=n) for n in range(600)])
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT reltuples FROM pg_class WHERE relname = 'inventory_batchpart'"
        )
        assert cursor.fetchone() == (600,)


def test_row_that_is_wrong_keeps_all_of_them_out() -> None:
    gear = builders.make_part(SPUR, tag="G1")
    gone = builders.make_part(tag="OLD")
    retire_part(gone, reason="cut", act=builders.act())
    before = count_all()
    for tag in (gear.tag, gone.tag):
        with pytest.raises(RefusedError) as refusal:
            take([bags.row("18.42", number=2), bags.row("18.44", number=3, tag=tag)])
        assert refusal.value.code == "row_wrong"
        assert "Row 3" in refusal.value.sentence
    # The gauges that the tries were given are there; nothing else is.
    assert count_all()[:-1] == before[:-1]


def test_tyre_in_stock_gets_new_readings_and_the_same_says_nothing_new() -> None:
    take([bags.row("18.42", "18.42", tag="A1"), bags.row("18.50", tag="A2", number=2)])
    gauge = bags.gauge()
    rows = [
        bags.row("18.30", "18.32", tag="A1"),
        bags.row("18.50", tag="A2", number=2),
        bags.row("18.60", tag="A3", number=3),
    ]
    checked = check_rows(rows, kind=PartKind.TYRE, gauge=gauge)
    assert [one.standing for one in checked.standings] == [
        Standing.CHANGED,
        Standing.SAME,
        Standing.NEW,
    ]
    take_batch(NewBatch(name="Again", gauge=gauge), checked, act=builders.act())
    worn = Part.objects.get(tag="A1")
    assert worn.version == 2
    current = worn.estimates.current().get(quantity=PartQuantity.TYRE_DIAMETER)
    assert current.value == 18_310_000
    assert worn.estimates.filter(quantity=PartQuantity.TYRE_DIAMETER).count() == 2
    assert Part.objects.count() == 3
    same = check_rows(rows, kind=PartKind.TYRE, gauge=gauge)
    with pytest.raises(RefusedError) as refusal:
        take_batch(NewBatch(name="Third", gauge=gauge), same, act=builders.act())
    assert refusal.value.code == "nothing_new"


def test_same_file_comes_in_once() -> None:
    rows = [bags.row("18.42"), bags.row("18.44", number=2)]
    take(rows)
    before = count_all()
    with pytest.raises(RefusedError) as refusal:
        take(rows)
    assert refusal.value.code == "same_file"
    assert Batch.objects.count() == before[0]


def test_gauge_that_may_not_be_used_is_refused() -> None:
    failed = builders.make_gauge(checked=CheckResult.FAILED, at=builders.now())
    scale = builders.make_gauge(unit=Unit.GRAM, at=builders.now())
    for mode, code in ((failed, "gauge_barred"), (scale, "gauge_of_other_unit")):
        gauge = bags.loaded(mode)
        checked = check_rows([bags.row("18.42")], kind=PartKind.TYRE, gauge=gauge)
        with pytest.raises(RefusedError) as refusal:
            take_batch(NewBatch(name="Bag", gauge=gauge), checked, act=builders.act())
        assert (refusal.value.code, refusal.value.field) == (code, "gauge")
    assert not Part.objects.exists()


def test_large_file_waits_while_a_race_night_is_open() -> None:
    rows = [bags.row(f"18.{n:05d}", number=n) for n in range(10_000, 10_001 + LARGE)]
    builders.make_night()
    with pytest.raises(RefusedError) as refusal:
        take(rows)
    assert refusal.value.code == "hall_busy"
    assert not Part.objects.exists()
    assert take(rows[:10]).members.count() == 10


def test_motors_come_in_with_their_two_figures() -> None:
    (motor, _) = bags.make_motors(("20150", "2.10"), ("20200", "2.12"))
    assert motor.kind == PartKind.MOTOR
    assert motor.motor.family == ""
    speed = motor.estimates.get(quantity=PartQuantity.MOTOR_SPEED)
    # Read with no length gauge: its repeatability alone, no error of its own.
    assert (speed.value, speed.systematic, speed.gauge_mode) == (
        20_150_000_000,
        0,
        None,
    )


def test_number_that_is_always_taken_ends_in_a_refusal() -> None:
    tries = []

    def taken() -> None:
        tries.append(1)
        raise IntegrityError

    with pytest.raises(RefusedError) as refusal:
        with_numbers(taken)
    assert refusal.value.code == "try_again"
    assert len(tries) == 3


def test_tags_that_files_brought_are_not_given_again() -> None:
    first, second, third = free_tags(PartKind.TYRE, 3)
    take([bags.row("18.42", tag=second)])
    # The part above has taken a key as well: what is given is simply free.
    given = free_tags(PartKind.TYRE, 3)
    assert second not in given
    assert len({*given, first, third}) >= 3


# --- at the caliper -------------------------------------------------------------


def measure(batch: Batch, *texts: str, sent_id: uuid.UUID | None = None) -> Part:
    gauge = bags.gauge()
    return measure_tyre(
        batch,
        bags.row(*texts),
        sent_id=sent_id or uuid.uuid4(),
        gauge=gauge,
        act=builders.act(),
    )


def test_tyre_from_the_caliper_is_stock_at_once_and_only_once() -> None:
    batch = bags.make_bench()
    sent = uuid.uuid4()
    first = measure(batch, "18.42", "18.44", sent_id=sent)
    again = measure(batch, "18.42", "18.44", sent_id=sent)
    second = measure(batch, "18.42", "18.44")
    assert again == first != second
    places = batch.members.values_list("position", "part")
    assert list(places) == [(0, first.pk), (1, second.pk)]
    assert first.moves.get().note == "batch Bench"
    assert AuditRow.objects.filter(event="batch.tyre_measured").count() == 2


def test_bench_with_a_barred_gauge_is_not_started() -> None:
    failed = bags.loaded(builders.make_gauge(checked=CheckResult.FAILED))
    with pytest.raises(RefusedError) as refusal:
        start_bench(NewBench(name="B", gauge=failed), act=builders.act())
    assert refusal.value.field == "gauge"
    assert not Batch.objects.exists()


def test_words_of_a_bench_are_said_of_each_of_its_tyres() -> None:
    new = NewBench(name="B", gauge=bags.gauge(), words={"compound": "soft"})
    batch = start_bench(new, act=builders.act())
    assert measure(batch, "18.42").tyre.compound == "soft"


# --- drafts -----------------------------------------------------------------------


def test_draft_is_read_looked_at_and_taken() -> None:
    draft = bags.make_draft("Tag;Ø 1;Ø 2\nA1;18,42;18,44\nA2;18,50;18,52\n")
    assert draft.state == DraftState.READ
    gauge = bags.loaded(draft.gauge_mode)  # type: ignore[arg-type]
    preview = preview_draft(draft, gauge=gauge)
    assert preview.can_be_taken
    assert preview.counts == {"new": 2, "changed": 0, "same": 0, "wrong": 0}
    batch = take_batch(
        batch_of_draft(draft, gauge=gauge), preview.checked, act=builders.act()
    )
    assert batch.source == BatchSource.FILE
    assert not BatchDraft.objects.exists()
    loaded = load_bag(batch)
    assert loaded.tags == ["A1", "A2"]
    assert loaded.bag.diameter_mm.tolist() == [18.43, 18.51]


def test_draft_is_taken_by_one_of_two() -> None:
    draft = bags.make_draft()
    gauge = bags.loaded(draft.gauge_mode)  # type: ignore[arg-type]
    new = batch_of_draft(draft, gauge=gauge)
    checked = preview_draft(draft, gauge=gauge).checked
    take_batch(new, checked, act=builders.act())
    other = check_rows([bags.row("19.0")], kind=PartKind.TYRE, gauge=gauge)
    with pytest.raises(RefusedError) as refusal:
        take_batch(new, other, act=builders.act())
    assert refusal.value.code == "draft_gone"
    assert Batch.objects.count() == 1


def test_faults_of_the_file_and_of_the_stock_stand_together() -> None:
    builders.make_part(SPUR, tag="A2")
    draft = bags.make_draft("Tag,Ø\nA1,18.4x\nA2,18.44\nA3,18.45\n")
    preview = preview_draft(draft, gauge=None)
    assert [(one.number, one.column, one.code) for one in preview.faults] == [
        (2, "B", "unknown_mark"),
        (3, "A", "tag_in_stock"),
    ]
    assert preview.counts["wrong"] == 2
    wrong = {row.number: row.wrong for row in preview.sample()}
    assert wrong == {2: {1}, 3: {0}, 4: set()}
    assert [row.tag for row in preview.taken.rows] == ["A3"]
    assert preview.wrong_count == 2


def test_file_with_both_decimal_signs_is_asked_about() -> None:
    draft = bags.make_draft("Tag;Ø\nA1;18,42\nA2;18.44\n")
    asked = preview_draft(draft, gauge=None)
    assert asked.is_asked
    assert not asked.can_be_taken
    said = dataclasses.replace(asked.layout, decimal=DecimalSign.EITHER)
    say_columns(draft, said, act=builders.act())
    draft.refresh_from_db()
    assert layout_from_json(draft.layout, PartKind.TYRE) == said
    assert preview_draft(draft, gauge=None).can_be_taken


def test_refused_file_says_why_and_nothing_is_kept_of_it() -> None:
    draft = bags.make_draft("<!doctype html><table>")
    assert draft.state == DraftState.REFUSED
    assert "web page" in draft.refusal
    assert draft.table is None
    refused = AuditRow.objects.get(event="batch.file_read").detail
    assert refused == {"refused": "not_a_table"}


def test_file_is_read_again_divided_otherwise() -> None:
    draft = bags.make_draft("18,42\n18,44\n")
    read_again(draft, divider=",", act=builders.act())
    read_draft(draft.pk, act=builders.act())
    draft.refresh_from_db()
    assert preview_draft(draft, gauge=None).table.rows[0] == ["18", "42"]


def test_draft_is_read_by_one_and_dropped_by_anyone() -> None:
    act = builders.act()
    new = NewDraft(name="A file", content=b"18.42\n", source=BatchSource.PASTED)
    draft = upload_draft(new, act=act)
    BatchDraft.objects.update(state=DraftState.READING, heard_at=builders.now())
    read_draft(draft.pk, act=act)  # somebody else is at it
    assert BatchDraft.objects.get().state == DraftState.READING
    # Its server ended: nothing was heard of it for long.
    BatchDraft.objects.update(heard_at=builders.NOW)
    read_draft(draft.pk, act=act)
    assert BatchDraft.objects.get().state == DraftState.READ
    drop_draft(draft.pk, act=act)
    assert not BatchDraft.objects.exists()


def test_draft_that_is_dropped_while_it_is_read_ends_the_reading(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def dropped(*_: object) -> None:
        BatchDraft.objects.all().delete()
        heard(1_000, 4_000)

    act = builders.act()
    draft = upload_draft(NewDraft(name="A", content=b"18.42;1\n" * 4_000), act=act)
    heard = drafts._Heard(draft.pk)
    monkeypatch.setattr(drafts, "_Heard", lambda _: dropped)
    read_draft(draft.pk, act=act)
    assert not BatchDraft.objects.exists()
    assert not AuditRow.objects.filter(event="batch.file_read").exists()
    read_draft(draft.pk, act=act)  # gone: nothing to read


def test_progress_of_a_reading_is_written_down(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drafts, "_HEARD_EVERY_S", 0)
    act = builders.act()
    draft = upload_draft(NewDraft(name="A", content=b"18.42;1\n" * 4_000), act=act)
    BatchDraft.objects.update(state=DraftState.READING)
    heard = drafts._Heard(draft.pk)
    heard(1_000, 4_000)
    found = BatchDraft.objects.get()
    assert (found.rows_read, found.rows_in_all) == (1_000, 4_000)
    BatchDraft.objects.all().delete()
    with pytest.raises(drafts._DraftGoneError):
        heard(2_000, 4_000)


@pytest.mark.parametrize(
    ("content", "code"),
    [(b"", "empty_file"), (bytes(limits.BYTES + 1), "large_file")],
)
def test_file_that_weighs_wrong_is_not_kept(content: bytes, code: str) -> None:
    with pytest.raises(RefusedError) as refusal:
        upload_draft(NewDraft(name="A", content=content), act=builders.act())
    assert (refusal.value.code, refusal.value.field) == (code, "file")
    assert not BatchDraft.objects.exists()


def test_draft_of_long_ago_goes_when_the_next_comes() -> None:
    bags.make_draft()
    later = builders.act(minutes=8 * 24 * 60)
    upload_draft(NewDraft(name="Next", content=b"18.4"), act=later)
    assert [draft.name for draft in BatchDraft.objects.all()] == ["Next"]


def test_retired_tyre_is_not_loaded_to_be_paired() -> None:
    batch = bags.make_batch("18.42", "18.44", "18.46")
    first = batch.members.select_related("part")[0].part
    retire_part(first, reason="cut", act=builders.act())
    assert first.state == PartState.RETIRED
    assert len(load_bag(batch)) == 2
