"""Off the block, withdrawn and back: void sheets, and what stands again."""

from collections.abc import Callable

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from inspection.actions.race_nights import (
    call_back,
    close_night,
    take_off_block,
    undo_withdrawal,
    withdraw_entry,
)
from inspection.actions.readings import strike_reading
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import start_sheet
from inspection.compute.night.entries import Decision, EntryState, SheetState
from inspection.compute.rulebooks.requirements import Answer, Stage
from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.models import Entry, RaceClass, Seal, Sheet, SheetReading, SheetVoid
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import AuditRow
from tests import builders

pytestmark = pytest.mark.django_db

LOOKED = (builders.rule("1", "motor_sealed", required=Answer.YES),)


@pytest.fixture
def entry() -> Entry:
    return builders.make_entry(night=builders.make_night(builders.make_edition(LOOKED)))


def state_of(entry: Entry) -> EntryState:
    return EntryState(Entry.objects.get(pk=entry.pk).state)


def again(sheet: Sheet) -> Sheet:
    return sheets_to_load().get(pk=sheet.pk)


def passed(entry: Entry) -> Sheet:
    sheet = builders.make_sheet(entry=entry)
    builders.read(sheet, "motor_sealed", answer=Answer.YES)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act())
    return sheet


def test_car_put_on_by_mistake_waits_and_its_readings_count_nowhere(
    entry: Entry,
) -> None:
    sheet = builders.make_sheet(entry=entry)
    builders.read(sheet, "motor_sealed", answer=Answer.NO)
    take_off_block(entry.pk, reason="wrong car", act=builders.act())
    assert state_of(entry) is EntryState.WAITING
    kept = again(sheet)
    assert kept.state is SheetState.VOID
    assert SheetReading.objects.filter(sheet=sheet).count() == 1
    loaded = load_sheet(kept)
    assert len(loaded.readings) == 1
    assert not loaded.values
    assert not loaded.findings
    second = builders.make_sheet(entry=entry)
    assert second.previous is None
    assert not second.readings.exists()
    assert AuditRow.objects.filter(event="sheet.voided").count() == 1


def test_car_put_on_by_mistake_keeps_its_place_in_the_queue(entry: Entry) -> None:
    behind = builders.make_entry(night=entry.night)
    builders.make_sheet(entry=entry)
    take_off_block(entry.pk, reason="not yet", act=builders.act(minutes=2))
    assert list(entry.night.entries.in_turn()) == [entry, behind]
    # One that came from elsewhere waits from now on.
    passed(entry)
    builders.make_sheet(entry=entry)
    take_off_block(entry.pk, reason="wrong car", act=builders.act(minutes=3))
    assert list(entry.night.entries.in_turn()) == [behind, entry]


def test_void_sheet_takes_no_reading_strike_or_seal(entry: Entry) -> None:
    sheet = builders.make_sheet(entry=entry)
    taken = builders.read(sheet, "motor_sealed", answer=Answer.YES)
    assert taken.reading is not None
    take_off_block(entry.pk, reason="wrong car", act=builders.act())
    refusals: list[Callable[[], object]] = [
        lambda: builders.read(sheet, "motor_sealed", answer=Answer.YES),
        lambda: strike_reading(sheet.number, 1, reason="grit", act=builders.act()),
        lambda: seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act()),
    ]
    for refused in refusals:
        with pytest.raises(RefusedError) as refusal:
            refused()
        assert refusal.value.code == "sheet_void"
        assert "wrong car" in refusal.value.sentence


def test_database_holds_a_sheet_to_be_void_or_sealed_never_both(entry: Entry) -> None:
    sealed = passed(entry)
    with pytest.raises(IntegrityError), transaction.atomic():
        SheetVoid.objects.create(
            sheet=sealed, by=builders.make_admin(), at=builders.NOW, reason="x"
        )
    other = builders.make_sheet(entry=builders.make_entry(night=entry.night))
    take_off_block(other.entry_id, reason="wrong car", act=builders.act())
    seal = Seal.objects.get()
    seal.pk, seal.sheet, seal.sequence, seal.sha256 = None, other, 2, "0" * 64
    with pytest.raises(IntegrityError), transaction.atomic():
        seal.save(force_insert=True)


def test_car_not_on_the_block_is_not_taken_off(entry: Entry) -> None:
    with pytest.raises(RefusedError) as refusal:
        take_off_block(entry.pk, reason="wrong car", act=builders.act())
    assert refusal.value.code == "not_on_block"
    builders.make_sheet(entry=entry)
    with pytest.raises(RefusedError) as refusal:
        take_off_block(entry.pk, reason="  ", act=builders.act())
    assert refusal.value.field == "reason"
    assert not SheetVoid.objects.exists()


def test_car_withdrawn_from_the_block_leaves_a_void_sheet_and_waits_again(
    entry: Entry,
) -> None:
    sheet = builders.make_sheet(entry=entry)
    withdraw_entry(entry.pk, reason="motor gone", act=builders.act())
    assert again(sheet).is_void
    undo_withdrawal(entry.pk, reason="motor found", act=builders.act())
    assert state_of(entry) is EntryState.WAITING


def test_withdrawal_undone_leaves_the_car_as_it_was(entry: Entry) -> None:
    passed(entry)
    withdraw_entry(entry.pk, reason="goes home", act=builders.act())
    undo_withdrawal(entry.pk, reason="stays", act=builders.act())
    assert state_of(entry) is EntryState.PASSED
    with pytest.raises(RefusedError) as refusal:
        undo_withdrawal(entry.pk, reason="stays", act=builders.act())
    assert refusal.value.code == "not_withdrawn"


def test_car_taken_off_after_the_race_is_still_due_after_the_race(
    entry: Entry,
) -> None:
    passed(entry)
    after = builders.make_sheet(entry=entry)
    assert after.stage == Stage.AFTER
    take_off_block(entry.pk, reason="not its turn", act=builders.act())
    assert builders.make_sheet(entry=entry).stage == Stage.AFTER


def test_closed_night_takes_no_move(entry: Entry) -> None:
    sent_back = builders.make_entry(night=entry.night)
    sheet = builders.make_sheet(entry=sent_back)
    builders.read(sheet, "motor_sealed", answer=Answer.NO)
    seal_sheet(sheet.number, decision=Decision.SENT_BACK, act=builders.act())
    withdraw_entry(entry.pk, reason="no-show", act=builders.act())
    close_night(entry.night, act=builders.act())
    refusals: list[Callable[[], object]] = [
        lambda: undo_withdrawal(entry.pk, reason="here", act=builders.act()),
        lambda: withdraw_entry(sent_back.pk, reason="late", act=builders.act()),
        lambda: call_back(sent_back.pk, act=builders.act()),
    ]
    for refused in refusals:
        with pytest.raises(RefusedError) as refusal:
            refused()
        assert refusal.value.code == "night_closed"
    assert state_of(sent_back) is EntryState.SENT_BACK


def test_car_in_two_classes_is_on_one_block(entry: Entry) -> None:
    other = RaceClass.objects.create(name="GT", rulebook=entry.race_class.rulebook)
    entry.night.classes.create(
        race_class=other, edition=entry.night.classes.get().edition
    )
    second = Entry.objects.create(
        night=entry.night,
        car=entry.car,
        race_class=other,
        driver=entry.driver,
        number=entry.number,
        state_since=builders.NOW,
    )
    builders.make_sheet(entry=entry)
    with pytest.raises(RefusedError) as refusal:
        start_sheet(second.pk, block=None, changed=(), act=builders.act())
    assert refusal.value.code == "car_on_block"
    assert state_of(second) is EntryState.WAITING


def test_reasons_are_on_the_board_the_sheet_and_the_car(entry: Entry) -> None:
    client = Client()
    client.force_login(builders.make_person(Role.SCRUTINEER))
    sheet = builders.make_sheet(entry=entry)
    assert (
        "take it off the block"
        in client.get(f"/sheet/{sheet.number}/block").content.decode()
    )
    empty = client.post(f"/entry/{entry.pk}/off", {"reason": ""})
    assert empty.status_code == 422
    client.post(f"/entry/{entry.pk}/off", {"reason": "the blue one was meant"})
    addresses = ["/", f"/sheet/{sheet.number}", f"/cars/{entry.car.tag}"]
    for address in addresses:
        assert "the blue one was meant" in client.get(address).content.decode(), address
    record = client.get(f"/sheet/{sheet.number}").content.decode()
    assert "counts for nothing" in record
    assert client.get(f"/sheet/{sheet.number}/block").status_code == 302
    client.post(f"/entry/{entry.pk}/withdraw", {"reason": "no-show"})
    client.post(f"/entry/{entry.pk}/undo", {"reason": "came late"})
    board = client.get("/").content.decode()
    assert "came late" in board
    assert state_of(entry) is EntryState.WAITING


def test_second_device_is_told_that_the_car_is_off_the_block(entry: Entry) -> None:
    client = Client()
    client.force_login(builders.make_person(Role.SCRUTINEER))
    sheet = builders.make_sheet(entry=entry)
    take_off_block(entry.pk, reason="wrong car", act=builders.act())
    news = client.get(
        f"/sheet/{sheet.number}/block", headers={"accept": "application/json"}
    ).json()
    assert "wrong car" in news["sealed"]["sentence"]


def test_page_that_puts_a_car_on_the_block_leads_to_its_open_sheet(
    entry: Entry,
) -> None:
    """A second scrutineer's board may be older than the first one's tap."""
    client = Client()
    client.force_login(builders.make_person(Role.SCRUTINEER))
    page = f"/entry/{entry.pk}/block"
    assert client.get(page).status_code == 200
    sheet = builders.make_sheet(entry=entry)
    assert client.get(page)["Location"] == f"/sheet/{sheet.number}/block"
    take_off_block(entry.pk, reason="put on by mistake", act=builders.act())
    assert client.get(page).status_code == 200
