"""The report to the race director: who may start, who not and why, its amendments."""

import csv
import io

import pytest
from django.test import Client

from inspection.actions.night.reports import give_report
from inspection.actions.race_nights import (
    plan_night,
    take_off_block,
    withdraw_entry,
)
from inspection.actions.rulings.held_cars import hold_car
from inspection.actions.rulings.protests import raise_protest, rule_on_protest
from inspection.actions.rulings.questions import rule_on_doubt
from inspection.actions.seals import seal_sheet
from inspection.compute.night import (
    Decision,
    EntryState,
    ProtestRuling,
    Ruling,
    Standing,
    standing_of,
)
from inspection.loaders.night.reports import load_report
from inspection.models import Edition, Entry, RaceNight
from inventory.actions.refusals import RefusedError
from inventory.compute.measuring import CheckResult
from inventory.compute.roles import Role
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def edition() -> Edition:
    return builders.make_edition((builders.rule("1", "tyre_diameter_rear", lower=18),))


@pytest.fixture
def night(edition: Edition) -> RaceNight:
    return builders.make_night(edition)


@pytest.fixture
def chief() -> Client:
    client = Client()
    client.force_login(builders.make_person(Role.CHIEF_SCRUTINEER))
    return client


def sealed(night: RaceNight, diameter: str) -> Entry:
    """Measure a car by a gauge of its own; 18 mm is the least."""
    entry = builders.make_entry(night=night)
    sheet, caliper = builders.make_sheet(entry=entry), builders.make_gauge()
    for side in ("left", "right"):
        builders.read(sheet, f"tyre_diameter_rear_{side}", diameter, gauge=caliper)
    passed = float(diameter) > 18
    decision = Decision.PASSED if passed else Decision.SENT_BACK
    seal_sheet(sheet.number, decision=decision, act=builders.act(minutes=3))
    entry.refresh_from_db()
    return entry


def standings(night: RaceNight) -> dict[int, Standing]:
    report = load_report(night, builders.act(minutes=9).at)
    return {line.entry.pk: line.standing for line in report.lines}


@pytest.mark.parametrize(
    ("state", "in_question", "standing"),
    [
        (EntryState.PASSED, False, Standing.MAY_START),
        (EntryState.PASSED, True, Standing.IN_QUESTION),
        (EntryState.SENT_BACK, False, Standing.REFUSED),
        (EntryState.SENT_BACK, True, Standing.IN_QUESTION),
        (EntryState.WAITING, True, Standing.NOT_CHECKED),
        (EntryState.ON_BLOCK, False, Standing.NOT_CHECKED),
        (EntryState.WITHDRAWN, True, Standing.WITHDRAWN),
    ],
)
def test_car_stands_as_its_state_and_its_questions_say(
    state: EntryState, *, in_question: bool, standing: Standing
) -> None:
    assert standing_of(state, is_in_question=in_question) is standing


def test_each_car_stands_in_its_class_with_why(night: RaceNight, chief: Client) -> None:
    good, bad = sealed(night, "19"), sealed(night, "17.1")
    waits, gone = (builders.make_entry(night=night) for _ in range(2))
    withdraw_entry(gone.pk, reason="flat tyre", act=builders.act(minutes=4))
    protested = sealed(night, "19.2")
    raise_protest(
        protested.pk,
        night.classes.get().edition.rules.get(),
        claim="the caliper was not square",
        act=builders.act(minutes=4, person=builders.make_scrutineer()),
    )
    hold_car(good.pk, reason="it won", act=builders.act(minutes=5))
    assert standings(night) == {
        good.pk: Standing.MAY_START,
        bad.pk: Standing.REFUSED,
        waits.pk: Standing.NOT_CHECKED,
        gone.pk: Standing.WITHDRAWN,
        protested.pk: Standing.IN_QUESTION,
    }
    page = chief.get(f"/night/{night.pk}/report").content.decode()
    assert "rule 1 Rule 1 (fail)" in page
    assert "1 protest not ruled yet" in page
    assert "flat tyre" in page
    assert page.count("held for the check after the race") == 1
    assert "Not given out yet" in page


def test_car_that_waits_again_is_not_told_by_a_sheet_that_is_void(
    night: RaceNight, chief: Client
) -> None:
    entry = builders.make_entry(night=night)
    sheet = builders.make_sheet(entry=entry)
    assert sheet.number in chief.get(f"/night/{night.pk}/report").content.decode()
    take_off_block(entry.pk, reason="wrong car", act=builders.act(minutes=2))
    assert standings(night) == {entry.pk: Standing.NOT_CHECKED}
    assert sheet.number not in chief.get(f"/night/{night.pk}/report").content.decode()


def test_refused_car_with_a_protest_upheld_is_told_by_both(night: RaceNight) -> None:
    bad = sealed(night, "17.1")
    protest = raise_protest(
        bad.pk,
        night.classes.get().edition.rules.get(),
        claim="the caliper was not square",
        act=builders.act(minutes=4, person=builders.make_scrutineer()),
    )
    rule_on_protest(
        protest.pk,
        ProtestRuling.UPHELD,
        reason="its jaws do not close",
        act=builders.act(builders.make_person(Role.CHIEF_SCRUTINEER), minutes=5),
    )
    (line,) = load_report(night, builders.act(minutes=9).at).lines
    assert line.standing is Standing.IN_QUESTION
    assert line.why == (
        "a protest was upheld: to be checked again; rule 1 Rule 1 (fail)"
    )


def test_many_broken_rules_are_told_in_one_line(chief: Client) -> None:
    rules = [
        builders.rule(str(n), "tyre_diameter_rear", lower=18 + n) for n in range(5)
    ]
    night = builders.make_night(builders.make_edition(rules))
    sealed(night, "17.1")
    page = chief.get(f"/night/{night.pk}/report").content.decode()
    assert "and 2 more" in page
    assert "rule 4 " not in page


def test_each_ruling_after_the_report_is_a_numbered_amendment(
    night: RaceNight, chief: Client
) -> None:
    good, doubted = sealed(night, "19"), sealed(night, "19.1")
    late = builders.make_entry(night=night)
    give_report(night, act=builders.act(minutes=5))
    withdraw_entry(late.pk, reason="went home", act=builders.act(minutes=6))
    protest = raise_protest(
        good.pk,
        night.classes.get().edition.rules.get(),
        claim="the caliper was not square",
        act=builders.act(minutes=7, person=builders.make_scrutineer()),
    )
    judge = builders.make_person(Role.CHIEF_SCRUTINEER)
    rule_on_protest(
        protest.pk,
        ProtestRuling.REJECTED,
        reason="it was measured again, and square",
        act=builders.act(judge, minutes=8),
    )
    sheet = doubted.sheets.get()
    reading = sheet.readings.select_related("gauge_mode__gauge")[0]
    assert reading.gauge_mode is not None
    gauge = reading.gauge_mode.gauge
    builders.check(gauge, CheckResult.FAILED, at=builders.act(minutes=9).at)
    rule_on_doubt(
        sheet.number,
        gauge.checks.get(result=CheckResult.FAILED).pk,
        ruling=Ruling.STANDS,
        reason="far from every limit",
        act=builders.act(judge, minutes=10),
    )
    report = load_report(night, builders.act(minutes=11).at)
    said = [(one.number, one.of, one.says) for one in report.amendments]
    assert said == [
        (1, str(late), "withdrawn (was waiting): went home"),
        (2, str(good), "protest rejected: it was measured again, and square"),
        (3, str(doubted), f"sheet {sheet.number} stands: far from every limit"),
    ]
    changed = [line.entry for line in report.lines if line.is_changed]
    assert changed == [late]
    page = chief.get(f"/night/{night.pk}/report").content.decode()
    assert "in the report: not checked yet" in page
    assert "amendments: 3" in page
    text = chief.get(f"/night/{night.pk}/report/file").content.decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == 3 + 3
    assert rows[0]["stands"] == "may start"
    assert [row["class"] for row in rows[3:]] == [f"amendment {n}" for n in (1, 2, 3)]
    assert rows[3]["by"] == "The Founder"


def test_report_is_given_out_once_of_a_night_that_was_opened(
    edition: Edition, night: RaceNight, chief: Client
) -> None:
    ahead = plan_night(
        name="Ahead",
        date=builders.NOW.date(),
        place="",
        editions={builders.make_class(): edition},
        act=builders.act(),
    )
    with pytest.raises(RefusedError) as refusal:
        give_report(ahead, act=builders.act())
    assert refusal.value.code == "night_not_open"
    assert (
        "No car is entered" in chief.get(f"/night/{ahead.pk}/report").content.decode()
    )
    chief.post(f"/night/{night.pk}/report/give")
    page = chief.post(f"/night/{night.pk}/report/give", follow=True)
    assert "The report is out already" in page.content.decode()
    builders.make_entry(night=night)
    again = chief.get(f"/night/{night.pk}/report").content.decode()
    assert "in the report: not entered" in again
