"""An edition moved in the night: who keeps theirs, and who goes to the chief."""

import pytest
from django.test import Client

from inspection.actions.race_nights import close_night
from inspection.actions.rulings.editions import move_edition
from inspection.actions.rulings.questions import rule_on_edition
from inspection.actions.seals import seal_sheet
from inspection.compute.night import Decision, EntryState, Ruling
from inspection.models import (
    Edition,
    EditionMove,
    Entry,
    JudgedAgain,
    RaceNight,
    Rulebook,
    Seal,
    Sheet,
    SheetRuling,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.measuring import Instrument
from inventory.compute.numbers import Unit
from inventory.compute.roles import Role
from inventory.models import GaugeMode
from tests import builders

pytestmark = pytest.mark.django_db

WHY = "the limit was misprinted"


def weighing(lower: int) -> Edition:
    return builders.make_edition([builders.rule("1", "weight_car", lower=lower)])


@pytest.fixture
def night() -> RaceNight:
    return builders.make_night(weighing(80))


@pytest.fixture
def scale() -> GaugeMode:
    return builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)


def weighed(night: RaceNight, grams: str, scale: GaugeMode) -> Sheet:
    sheet = builders.make_sheet(entry=builders.make_entry(night=night))
    builders.read(sheet, "weight_car", grams, gauge=scale)
    return sheet


def sealed(night: RaceNight, grams: str, scale: GaugeMode, decision: Decision) -> Sheet:
    sheet = weighed(night, grams, scale)
    seal_sheet(sheet.number, decision=decision, act=builders.act(minutes=3))
    return sheet


def move(night: RaceNight, edition: Edition, reason: str = WHY) -> EditionMove:
    return move_edition(
        night,
        builders.make_class(),
        edition,
        reason=reason,
        act=builders.act(minutes=4),
    )


def test_only_sheets_that_the_new_edition_decides_otherwise_go_to_the_chief(
    night: RaceNight, scale: GaugeMode
) -> None:
    sealed(night, "95", scale, Decision.PASSED)
    light = sealed(night, "85", scale, Decision.PASSED)
    sealed(night, "70", scale, Decision.SENT_BACK)
    opened = weighed(night, "85", scale)
    before = list(Seal.objects.values_list("sha256", flat=True))
    moved = move(night, weighing(90))
    [judged] = JudgedAgain.objects.all()
    assert (judged.sheet, judged.decision) == (light, Decision.SENT_BACK)
    assert judged.rules == "1 (fail)"
    assert list(Seal.objects.values_list("sha256", flat=True)) == before
    assert Sheet.objects.get(pk=opened.pk).edition == moved.before
    assert (
        builders.make_sheet(entry=builders.make_entry(night=night)).edition
        == moved.after
    )


def test_car_that_was_sent_back_may_be_let_pass_by_the_new_edition(
    night: RaceNight, scale: GaugeMode
) -> None:
    light = sealed(night, "70", scale, Decision.SENT_BACK)
    move(night, weighing(60))
    [judged] = JudgedAgain.objects.all()
    assert (judged.sheet, judged.decision) == (light, Decision.PASSED)
    rule_on_edition(
        judged.pk, ruling=Ruling.AGAIN, reason=WHY, act=builders.act(minutes=5)
    )
    assert Entry.objects.get(pk=light.entry_id).state == EntryState.WAITING


def test_ruling_to_measure_again_brings_the_car_back_by_the_new_edition(
    night: RaceNight, scale: GaugeMode
) -> None:
    light = sealed(night, "85", scale, Decision.PASSED)
    moved = move(night, weighing(90))
    judged = JudgedAgain.objects.get()
    rule_on_edition(
        judged.pk, ruling=Ruling.AGAIN, reason=WHY, act=builders.act(minutes=5)
    )
    again = Sheet.objects.latest("id")
    assert (again.previous, again.edition) == (light, moved.after)
    with pytest.raises(RefusedError) as refusal:
        rule_on_edition(
            judged.pk, ruling=Ruling.STANDS, reason=WHY, act=builders.act(minutes=6)
        )
    assert refusal.value.code == "ruled_already"
    assert SheetRuling.objects.count() == 1


def test_edition_is_moved_with_a_reason_to_another_one_of_the_class(
    night: RaceNight,
) -> None:
    other = weighing(90)
    draft = builders.make_edition(published=False)
    foreign = builders.make_edition()
    for edition, reason, field in (
        (other, "hm", "reason"),
        (draft, WHY, "edition"),
        (night.classes.get().edition, WHY, "edition"),
    ):
        with pytest.raises(RefusedError) as refusal:
            move(night, edition, reason)
        assert refusal.value.field == field
    race_class = builders.make_class()
    race_class.rulebook = Rulebook.objects.create(name="Other rules")
    with pytest.raises(RefusedError) as refusal:
        move_edition(night, race_class, foreign, reason=WHY, act=builders.act())
    assert refusal.value.code == "edition_not_for_class"
    close_night(night, act=builders.act(minutes=5))
    with pytest.raises(RefusedError) as refusal:
        move(night, other)
    assert refusal.value.code == "night_closed"
    assert not EditionMove.objects.exists()


def test_class_that_does_not_race_moves_to_nothing(night: RaceNight) -> None:
    night.classes.all().delete()
    with pytest.raises(RefusedError) as refusal:
        move(night, weighing(90))
    assert refusal.value.code == "class_not_tonight"


def test_edition_is_on_the_board_and_moved_from_its_page(
    night: RaceNight, scale: GaugeMode
) -> None:
    light = sealed(night, "85", scale, Decision.PASSED)
    other = weighing(90)
    chief, owner = Client(), Client()
    chief.force_login(builders.make_person(Role.CHIEF_SCRUTINEER))
    owner.force_login(light.entry.car.owner)
    assert str(night.classes.get().edition) in owner.get("/").content.decode()
    page = f"/night/{night.pk}/edition"
    typed = {"race_class": builders.make_class().pk, "edition": other.pk}
    assert str(other) in chief.get(page).content.decode()
    refused = chief.post(page, typed | {"reason": "hm"})
    assert refused.status_code == 422
    assert chief.post(page, typed | {"reason": WHY}).status_code == 302
    board = owner.get("/").content.decode()
    assert str(other) in board
    assert WHY in board
    assert "for the chief" in board
    record = f"/sheet/{light.number}"
    assert "In question until the chief" in owner.get(record).content.decode()
    judged = JudgedAgain.objects.get()
    ruling = f"/ruling/edition/{judged.pk}"
    assert "sent back" in chief.get(ruling).content.decode()
    chief.post(ruling, {"ruling": "stands", "reason": "it raced by the old one"})
    assert "it raced by the old one" in owner.get(record).content.decode()
    assert "for the chief" not in owner.get("/").content.decode()


def test_closing_names_each_car_in_the_way(night: RaceNight, scale: GaugeMode) -> None:
    on_block = [weighed(night, "85", scale) for _ in range(2)]
    sealed(night, "85", scale, Decision.PASSED)
    move(night, weighing(90))
    with pytest.raises(RefusedError) as refusal:
        close_night(night, act=builders.act(minutes=5))
    assert all(one.entry.called in refusal.value.sentence for one in on_block)
    chief = Client()
    chief.force_login(builders.make_person(Role.CHIEF_SCRUTINEER))
    page = chief.get(f"/night/{night.pk}/close").content.decode()
    for one in on_block:
        assert f'href="/entry/{one.entry_id}/off"' in page
    assert "Not ruled yet" in page
    assert "<form" not in page.partition("<main")[2].partition("</main")[0]
    for one in on_block:
        chief.post(f"/entry/{one.entry_id}/off", {"reason": "late"})
    chief.post(f"/night/{night.pk}/close")
    assert RaceNight.objects.get(pk=night.pk).closed_at is not None
