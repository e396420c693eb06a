"""Race nights: planning, opening, entering, moving about; sheets that start."""

import pytest

from inspection.actions.race_nights import (
    call_back,
    enter_car,
    open_night,
    plan_night,
    withdraw_entry,
)
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import reopen_car, start_sheet
from inspection.compute.asking import Area
from inspection.compute.night.entries import Decision, EntryState
from inspection.compute.rulebooks.requirements import Answer, Stage
from inspection.models import (
    Entry,
    EntryMove,
    NightClass,
    RaceClass,
    RaceNight,
    Rulebook,
    Sheet,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import AuditRow
from tests import builders

pytestmark = pytest.mark.django_db

LOOKED = (builders.rule("1", "motor_sealed", required=Answer.YES),)


@pytest.fixture
def night() -> RaceNight:
    return builders.make_night(builders.make_edition(LOOKED))


@pytest.fixture
def entry(night: RaceNight) -> Entry:
    return builders.make_entry(night=night)


def passed(entry: Entry) -> Sheet:
    sheet = builders.make_sheet(entry=entry)
    builders.read(sheet, "motor_sealed", answer=Answer.YES)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act())
    return sheet


def test_night_is_planned_only_with_published_editions() -> None:
    draft = builders.make_edition(LOOKED, published=False)
    with pytest.raises(RefusedError) as refusal:
        plan_night(
            name="N",
            date=builders.NOW.date(),
            place="",
            editions={builders.make_class(): draft},
            act=builders.act(),
        )
    assert refusal.value.code == "edition_not_for_class"
    assert not RaceNight.objects.exists()


def test_night_is_planned_only_with_the_rulebook_of_the_class() -> None:
    other = RaceClass.objects.create(
        name="Other", rulebook=Rulebook.objects.create(name="Other rules")
    )
    with pytest.raises(RefusedError):
        plan_night(
            name="N",
            date=builders.NOW.date(),
            place="",
            editions={other: builders.make_edition(LOOKED)},
            act=builders.act(),
        )


def test_night_needs_a_class() -> None:
    with pytest.raises(RefusedError) as refusal:
        plan_night(
            name="N",
            date=builders.NOW.date(),
            place="",
            editions={},
            act=builders.act(),
        )
    assert refusal.value.code == "no_class"


def test_night_is_opened_once(night: RaceNight) -> None:
    with pytest.raises(RefusedError) as refusal:
        open_night(night, act=builders.act())
    assert refusal.value.code == "night_opened"


def test_entry_starts_waiting_and_is_made_once(entry: Entry) -> None:
    assert entry.state == EntryState.WAITING
    with pytest.raises(RefusedError) as refusal:
        enter_car(
            entry.night,
            entry.car,
            race_class=entry.race_class,
            driver=entry.driver,
            act=builders.act(),
        )
    assert refusal.value.code == "entered_already"
    assert Entry.objects.count() == 1


def test_class_that_does_not_race_tonight_is_refused(night: RaceNight) -> None:
    other = RaceClass.objects.create(
        name="Other", rulebook=Rulebook.objects.create(name="Other rules")
    )
    car = builders.make_car()
    with pytest.raises(RefusedError) as refusal:
        enter_car(night, car, race_class=other, driver=car.owner, act=builders.act())
    assert refusal.value.code == "class_not_tonight"


def test_sheet_moves_the_car_onto_the_block_and_is_numbered(
    night: RaceNight, entry: Entry
) -> None:
    first = builders.make_sheet(entry=entry)
    second = builders.make_sheet(entry=builders.make_entry(night=night))
    assert Entry.objects.get(pk=entry.pk).state == EntryState.ON_BLOCK
    assert first.number.endswith("-001")
    assert second.number.endswith("-002")
    assert first.stage == Stage.BEFORE


def test_car_on_the_block_cannot_be_put_there_again(entry: Entry) -> None:
    builders.make_sheet(entry=entry)
    with pytest.raises(RefusedError) as refusal:
        builders.make_sheet(entry=entry)
    assert refusal.value.code == "car_on_block"
    assert Sheet.objects.count() == 1


def test_sheet_needs_an_open_night() -> None:
    night = plan_night(
        name="N",
        date=builders.NOW.date(),
        place="",
        editions={builders.make_class(): builders.make_edition(LOOKED)},
        act=builders.act(),
    )
    entry = builders.make_entry(night=night)
    with pytest.raises(RefusedError) as refusal:
        builders.make_sheet(entry=entry)
    assert refusal.value.code == "night_not_open"
    assert Entry.objects.get(pk=entry.pk).state == EntryState.WAITING


def test_passed_car_comes_back_after_the_race(entry: Entry) -> None:
    before = passed(entry)
    after = builders.make_sheet(entry=entry)
    assert after.stage == Stage.AFTER
    assert after.previous_id == before.pk


def test_chief_reopens_a_passed_car_with_a_reason(entry: Entry) -> None:
    passed(entry)
    with pytest.raises(RefusedError) as refusal:
        reopen_car(entry.pk, reason="hm", block=None, act=builders.act())
    assert refusal.value.field == "reason"
    again = reopen_car(
        entry.pk, reason="the owner changed the tyres", block=None, act=builders.act()
    )
    assert again.stage == Stage.BEFORE
    assert AuditRow.objects.filter(event="entry.reopened").count() == 1


def test_sent_back_car_is_called_back_and_keeps_its_moves(entry: Entry) -> None:
    sheet = builders.make_sheet(entry=entry)
    builders.send_back(sheet.number, act=builders.act())
    call_back(entry.pk, act=builders.act())
    moves = EntryMove.objects.filter(entry=entry).order_by("id")
    assert list(moves.values_list("to_state", flat=True)) == [
        "waiting",
        "on block",
        "sent back",
        "waiting",
    ]


def test_changed_area_is_not_carried_over(entry: Entry) -> None:
    sheet = passed(entry)
    assert sheet.readings.count() == 1
    again = start_sheet(entry.pk, block=None, changed=[Area.MOTOR], act=builders.act())
    assert not again.readings.exists()


def test_withdrawn_car_needs_a_reason_and_stays_out(entry: Entry) -> None:
    with pytest.raises(RefusedError) as refusal:
        withdraw_entry(entry.pk, reason=" ", act=builders.act())
    assert refusal.value.field == "reason"
    withdraw_entry(entry.pk, reason="no-show", act=builders.act())
    with pytest.raises(RefusedError):
        call_back(entry.pk, act=builders.act())
    assert EntryMove.objects.filter(reason="no-show").exists()


def test_chief_alone_may_reopen_is_the_pages_affair(entry: Entry) -> None:
    """The action asks for a reason; the role is asked at the door (matrix)."""
    passed(entry)
    chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    again = reopen_car(
        entry.pk, reason="protest upheld", block=None, act=builders.act(chief)
    )
    assert again.started_by == chief


def test_sheet_of_the_club_s_hundred_thousandth_night_has_its_number() -> None:
    like = builders.make_night()
    night = RaceNight.objects.create(
        pk=100_000,
        name="A late one",
        date=like.date,
        opened_at=like.opened_at,
        opened_by=like.opened_by,
    )
    named = like.classes.get()
    NightClass.objects.create(
        night=night, race_class=named.race_class, edition=named.edition
    )
    sheet = builders.make_sheet(entry=builders.make_entry(night=night))
    assert sheet.number.endswith("-100000-001")
