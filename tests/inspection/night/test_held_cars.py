"""After the race: held cars, and a sample that anyone can check."""

import csv
import hashlib
import io
import re

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from inspection.actions.race_nights import close_night, take_off_block
from inspection.actions.rulings.held_cars import (
    draw_sample,
    hold_car,
    plan_sample,
    release_car,
    take_sample_back,
)
from inspection.actions.seals import seal_sheet
from inspection.compute.night import Decision
from inspection.compute.rulebooks import Answer
from inspection.models import (
    Entry,
    HeldCar,
    RaceNight,
    ReleasedCar,
    Sample,
    SampleDraw,
    SampleVoid,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import AuditRow
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def night() -> RaceNight:
    looked = builders.rule("1", "motor_sealed", required=Answer.YES)
    return builders.make_night(builders.make_edition([looked]))


def passed(night: RaceNight) -> Entry:
    entry = builders.make_entry(night=night)
    look_and_pass(entry)
    return entry


def look_and_pass(entry: Entry) -> None:
    sheet = builders.make_sheet(entry=entry)
    builders.read(sheet, "motor_sealed", answer=Answer.YES)
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(minutes=3))


def hash_of(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def test_car_is_held_once_at_a_time_with_its_times(night: RaceNight) -> None:
    entry = passed(night)
    held = hold_car(entry.pk, reason="won", act=builders.act(minutes=60))
    with pytest.raises(RefusedError) as refusal:
        hold_car(entry.pk, reason="won", act=builders.act(minutes=61))
    assert refusal.value.code == "held_already"
    released = release_car(held.pk, act=builders.act(minutes=75))
    assert (released.at - held.at).seconds == 15 * 60
    with pytest.raises(RefusedError) as refusal:
        release_car(held.pk, act=builders.act(minutes=76))
    assert refusal.value.code == "released_already"
    hold_car(entry.pk, reason="looked at again", act=builders.act(minutes=77))


def test_car_that_has_not_passed_or_a_bare_word_holds_nothing(
    night: RaceNight,
) -> None:
    waiting = builders.make_entry(night=night)
    with pytest.raises(RefusedError) as refusal:
        hold_car(waiting.pk, reason="won", act=builders.act())
    assert refusal.value.code == "not_passed"
    with pytest.raises(RefusedError) as refusal:
        hold_car(waiting.pk, reason=" ", act=builders.act())
    assert refusal.value.field == "reason"
    assert not HeldCar.objects.exists()


def test_sample_is_what_a_shell_draws_from_the_seed(night: RaceNight) -> None:
    for _ in range(5):
        passed(night)
    sample = plan_sample(night, 2, act=builders.act(minutes=30))
    assert sample.seed_sha256 == hash_of(sample.seed)
    first = HeldCar.objects.create(
        entry=night.entries.all()[0],
        by=builders.make_admin(),
        at=builders.NOW,
        reason="won",
    )
    draw = draw_sample(night, act=builders.act(minutes=90))
    names = [f"Saloon/{entry.number}" for entry in night.entries.all()]
    assert draw.among == sorted(names)
    by_hash = sorted(names, key=lambda name: hash_of(f"{sample.seed}/{name}"))
    assert draw.drawn == by_hash[:2]
    held = {f"Saloon/{one.entry.number}" for one in HeldCar.objects.all()}
    assert held == {*by_hash[:2], f"Saloon/{first.entry.number}"}
    assert len(held) == HeldCar.objects.count()
    with pytest.raises(RefusedError) as refusal:
        draw_sample(night, act=builders.act(minutes=91))
    assert refusal.value.code == "no_sample"


def test_hash_is_shown_before_the_race_and_once(night: RaceNight) -> None:
    entry = builders.make_entry(night=night)
    plan_sample(night, 1, act=builders.act())
    with pytest.raises(RefusedError) as refusal:
        plan_sample(night, 1, act=builders.act())
    assert refusal.value.code == "sample_planned"
    with pytest.raises(RefusedError) as refusal:
        draw_sample(night, act=builders.act())
    assert refusal.value.code == "nothing_passed"
    other = builders.make_night(night.classes.get().edition)
    late = builders.make_entry(night=other)
    look_and_pass(late)
    builders.make_sheet(entry=late)
    with pytest.raises(RefusedError) as refusal:
        plan_sample(other, 1, act=builders.act())
    assert refusal.value.code == "after_the_race"
    close_night(entry.night, act=builders.act())
    with pytest.raises(RefusedError) as refusal:
        draw_sample(night, act=builders.act())
    assert refusal.value.code == "night_not_open"
    assert not SampleDraw.objects.exists()


WHY = "one car too many was typed"


def test_sample_larger_than_the_cars_is_refused_and_draws_none(
    night: RaceNight,
) -> None:
    """What was typed and how many there are is said: before the race and after it."""
    for _ in range(2):
        passed(night)
    slow = builders.make_entry(night=night)
    with pytest.raises(RefusedError) as refusal:
        plan_sample(night, 4, act=builders.act(minutes=30))
    assert (refusal.value.code, refusal.value.field) == ("sample_too_large", "count")
    said = "Cars to draw after the race: “4” was typed; 3 race, and 2 of them have"
    assert refusal.value.sentence.startswith(said)
    assert not Sample.objects.exists()
    plan_sample(night, 3, act=builders.act(minutes=30))
    with pytest.raises(RefusedError) as refusal:
        draw_sample(night, act=builders.act(minutes=90))
    assert refusal.value.code == "sample_too_large"
    assert "“3” was typed; 2 passed." in refusal.value.sentence
    assert not SampleDraw.objects.exists()
    assert not HeldCar.objects.exists()
    look_and_pass(slow)
    assert len(draw_sample(night, act=builders.act(minutes=91)).drawn) == 3


def test_sample_is_taken_back_with_a_reason_and_another_said(night: RaceNight) -> None:
    entries = [passed(night) for _ in range(3)]
    won = hold_car(entries[0].pk, reason="won", act=builders.act(minutes=60))
    plan_sample(night, 3, act=builders.act(minutes=30))
    draw_sample(night, act=builders.act(minutes=90))
    with pytest.raises(RefusedError) as refusal:
        take_sample_back(night, reason=" ", act=builders.act(minutes=91))
    assert refusal.value.field == "reason"
    void = take_sample_back(night, reason=WHY, act=builders.act(minutes=91))
    # Who was held before the draw still is; the draw itself stays to be read.
    assert list(HeldCar.objects.filter(release=None)) == [won]
    assert ReleasedCar.objects.count() == 2
    assert void.sample.draw.drawn
    with pytest.raises(RefusedError) as refusal:
        draw_sample(night, act=builders.act(minutes=92))
    assert refusal.value.code == "no_sample"
    audited = AuditRow.objects.get(event="sample.taken_back")
    assert audited.detail["reason"] == WHY
    assert len(audited.detail["released"]) == 2
    # The car that won was looked at meanwhile; the sample in place of it may be said.
    builders.make_sheet(entry=entries[0])
    plan_sample(night, 1, act=builders.act(minutes=93))
    assert len(draw_sample(night, act=builders.act(minutes=94)).drawn) == 1
    assert Sample.objects.count() == 2


def test_sample_of_which_a_car_was_looked_at_stands(night: RaceNight) -> None:
    entry = passed(night)
    plan_sample(night, 1, act=builders.act())
    draw_sample(night, act=builders.act())
    # Put on by mistake and taken off with nothing read: it was not looked at.
    builders.make_sheet(entry=entry)
    take_off_block(entry.pk, reason="the wrong car", act=builders.act(minutes=2))
    entry.refresh_from_db()
    sheet = builders.make_sheet(entry=entry)
    with pytest.raises(RefusedError) as refusal:
        take_sample_back(night, reason=WHY, act=builders.act(minutes=2))
    assert refusal.value.code == "sample_looked_at"
    assert sheet.number in refusal.value.sentence
    assert not SampleVoid.objects.exists()
    assert not ReleasedCar.objects.exists()


def test_sample_of_which_a_car_was_on_a_block_by_mistake_is_taken_back(
    night: RaceNight,
) -> None:
    entry = passed(night)
    plan_sample(night, 1, act=builders.act())
    draw_sample(night, act=builders.act())
    builders.make_sheet(entry=entry)
    take_off_block(entry.pk, reason="the wrong car", act=builders.act(minutes=2))
    take_sample_back(night, reason=WHY, act=builders.act(minutes=3))
    assert not HeldCar.objects.filter(release=None).exists()


def test_database_keeps_one_sample_a_night_and_no_draw_of_one_taken_back(
    night: RaceNight,
) -> None:
    entry = passed(night)
    sample = plan_sample(night, 1, act=builders.act())
    by, at = builders.make_admin(), builders.NOW
    with pytest.raises(IntegrityError), transaction.atomic():
        Sample.objects.create(
            night=night, seed="x", seed_sha256="x", count=1, by=by, at=at
        )
    take_sample_back(entry.night, reason=WHY, act=builders.act())
    with pytest.raises(IntegrityError), transaction.atomic():
        SampleDraw.objects.create(sample=sample, among=[], drawn=[], by=by, at=at)


def test_sample_is_taken_back_on_its_page(night: RaceNight) -> None:
    for _ in range(2):
        passed(night)
    chief, member = Client(), Client()
    chief.force_login(builders.make_person(Role.CHIEF_SCRUTINEER))
    member.force_login(builders.make_person())
    page = f"/night/{night.pk}/held"
    refused = chief.post(f"/night/{night.pk}/sample", {"count": 3})
    assert refused.status_code == 422
    assert "“3” was typed; 2 race" in refused.content.decode()
    chief.post(f"/night/{night.pk}/sample", {"count": 2})
    shown = chief.get(page).content.decode()
    assert "Of 2 that passed, 2 are drawn, and held." in shown
    assert "Take the sample back" not in member.get(page).content.decode()
    # A field of each form, and each has the label that stands before it.
    names = re.findall(r'<[^>]* id="([^"]+)"', shown)
    assert len(names) == len(set(names))
    chief.post(f"/night/{night.pk}/sample/draw")
    back = f"/night/{night.pk}/sample/back"
    refused = chief.post(back, {"reason": "hm"})
    assert refused.status_code == 422
    assert "hm" in refused.content.decode()
    assert chief.post(back, {"reason": WHY}).status_code == 302
    shown = member.get(page).content.decode()
    assert WHY in shown
    assert Sample.objects.get().seed in shown
    assert ">held<" not in member.get("/").content.decode()


def test_list_and_sample_by_pages(night: RaceNight) -> None:
    entry = passed(night)
    chief, member = Client(), Client()
    chief.force_login(builders.make_person(Role.CHIEF_SCRUTINEER))
    member.force_login(builders.make_person())
    page = f"/night/{night.pk}/held"
    assert page in member.get("/").content.decode()
    assert "No car is held" in member.get(page).content.decode()
    assert chief.post(f"/night/{night.pk}/sample", {"count": 0}).status_code == 422
    chief.post(f"/night/{night.pk}/sample", {"count": 1})
    sample = Sample.objects.get()
    before = member.get(page).content.decode()
    assert sample.seed_sha256 in before
    assert sample.seed not in before
    again = chief.post(f"/night/{night.pk}/sample", {"count": 1})
    assert again.status_code == 422
    assert chief.post(f"{page}/new", {"entry": entry.pk}).status_code == 422
    chief.post(f"{page}/new", {"entry": entry.pk, "reason": "won its class"})
    refused = chief.post(f"{page}/new", {"entry": entry.pk, "reason": "won"})
    assert "held already" in refused.content.decode()
    chief.post(f"/night/{night.pk}/sample/draw")
    after = member.get(page).content.decode()
    assert sample.seed in after
    assert "won its class" in after
    assert ">held<" in member.get("/").content.decode()
    chief.post(f"/held/{HeldCar.objects.get().pk}/release")
    assert "let go" in member.get(page).content.decode()
    look_and_pass(entry)
    report = f"/night/{night.pk}/report"
    for address in ("/", report):
        assert "checked after the race" in member.get(address).content.decode()
    (row,) = csv.DictReader(
        io.StringIO(member.get(f"{report}/file").content.decode("utf-8-sig"))
    )
    assert row["checked after"] == "yes"


def test_closing_names_the_cars_that_are_still_held(night: RaceNight) -> None:
    """And says what happens to them: they stay held, and may be let go later."""
    held, free = passed(night), passed(night)
    row = hold_car(held.pk, reason="won", act=builders.act(minutes=60))
    chief = Client()
    chief.force_login(builders.make_person(Role.CHIEF_SCRUTINEER))
    page = f"/night/{night.pk}/close"
    shown = chief.get(page).content.decode()
    assert "Still held" in shown
    assert held.car.name in shown
    assert free.car.name not in shown
    assert f"/night/{night.pk}/held" in shown
    chief.post(page)
    assert HeldCar.objects.filter(release=None).exists()
    assert "Let it go" in chief.get(f"/night/{night.pk}/held").content.decode()
    chief.post(f"/held/{row.pk}/release")
    assert not HeldCar.objects.filter(release=None).exists()


def test_closing_says_nothing_of_held_cars_where_there_are_none(
    night: RaceNight,
) -> None:
    row = hold_car(passed(night).pk, reason="won", act=builders.act(minutes=60))
    release_car(row.pk, act=builders.act(minutes=61))
    chief = Client()
    chief.force_login(builders.make_person(Role.CHIEF_SCRUTINEER))
    shown = chief.get(f"/night/{night.pk}/close").content.decode()
    assert "Still held" not in shown
