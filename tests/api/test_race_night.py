"""A race night by the API alone: planned, entered, measured, sealed, protested."""

import uuid
from datetime import timedelta
from typing import Any

import pytest

from inspection.models import Car, RaceNight, Sheet, SheetReading
from inventory.compute.measuring import Instrument
from inventory.compute.numbers import Unit
from inventory.compute.roles import Role
from inventory.models import KeptAnswer
from tests.api.asking import Script, given, problem_of, script_of
from tests.builders import (
    make_car,
    make_class,
    make_edition,
    make_gauge,
    make_person,
    now,
    rule,
)
from tests.conftest import QueryGrowth

pytestmark = pytest.mark.django_db


def chief() -> Script:
    return script_of(make_person(Role.CHIEF_SCRUTINEER))


def planned(name: str = "Third round") -> dict[str, Any]:
    race_class, edition = (
        make_class(),
        make_edition([rule("1", "weight_car", lower=80)]),
    )
    return {
        "name": name,
        "date": now().date().isoformat(),
        "classes": [{"race_class": race_class.pk, "edition": edition.pk}],
    }


def reading_address(number: str, reading_id: object | None = None) -> str:
    return f"sheets/{number}/readings/{reading_id or uuid.uuid4()}"


def test_a_night_is_run_by_a_script() -> None:
    script = chief()
    night = given(script.post("nights", planned()), 201)
    assert night["state"] == "planned"
    at = f"nights/{night['id']}"
    assert given(script.post(f"{at}/open"))["state"] == "open"
    car = make_car()
    said = {"car": car.tag, "race_class": make_class().pk}
    entry = given(script.post(f"{at}/entries", said), 201)
    assert entry["driver"]["id"] == car.owner_id
    sheet = given(script.post(f"entries/{entry['id']}/block"), 201)["number"]
    for wrong in ("?", "Ü"):
        note = {"text": "A screw is loose.", "picture": wrong}
        refused = problem_of(script.post(f"sheets/{sheet}/notes", note), 422)
        assert refused["errors"][0]["code"] == "no_base64"
    shown = given(script.get(f"sheets/{sheet}"))
    assert shown["next"] == "weight_car"
    assert shown["unread"] == ["weight_car"]
    scale = make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM, at=now())
    typed = {"column": "weight_car", "text": "95.4", "gauge": scale.pk}
    key = uuid.uuid4()
    taken = given(script.put(reading_address(sheet, key), typed), 201)
    assert taken["reading"]["value"] == pytest.approx(95.4)
    assert taken["next"] == ""
    # The same one again, as a queue sends it that did not hear the answer.
    given(script.put(reading_address(sheet, key), typed), 200)
    # RFC 9562, 4: of an id the case says nothing; some devices make them in capitals.
    given(script.put(reading_address(sheet, str(key).upper()), typed), 200)
    assert SheetReading.objects.count() == 1
    shown = given(script.get(f"sheets/{sheet}"))
    assert (shown["findings"][0]["outcome"], shown["may_pass"]) == ("pass", True)
    seal = given(script.post(f"sheets/{sheet}/seal", {"decision": "passed"}), 201)
    assert len(seal["sha256"]) == 64
    assert given(script.get(f"entries/{entry['id']}"))["state"] == "passed"
    refused = script.put(reading_address(sheet), typed)
    assert problem_of(refused, 409)["code"] == "sheet_sealed"
    assert given(script.post(f"{at}/close"))["state"] == "closed"


def test_a_strange_reading_is_asked_about_before_it_is_written() -> None:
    script = chief()
    sheet = on_the_block(script)
    scale = make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM, at=now())
    typed: dict[str, Any] = {"column": "weight_car", "text": "9540", "gauge": scale.pk}
    said = problem_of(script.put(reading_address(sheet), typed), 409)
    assert said["code"] == "strange"
    assert said["question"] == said["detail"]
    assert not SheetReading.objects.exists()
    typed["confirmed"] = True
    taken = given(script.put(reading_address(sheet), typed), 201)
    strike = {"reading": taken["reading"]["id"], "reason": "a slip of the hand"}
    given(script.post(f"sheets/{sheet}/strikes", strike), 201)
    shown = given(script.get(f"sheets/{sheet}"))
    assert [one["is_struck"] for one in shown["readings"]] == [True]


@pytest.mark.parametrize(
    "said",
    [
        "0001-01-01T00:00:00Z",
        "0001-01-01T00:00:00+14:00",  # no year is before the first
        "9999-12-31T23:59:59-12:00",
        "0000-01-01T00:00:00Z",  # a year of ISO 8601, of no calendar here
        "2000-00-00T00:00:00Z",  # a clock that ran down
        "1970-01-01T00:00:00Z",
        "2093-05-05T10:00:00Z",
    ],
)
def test_a_reading_is_kept_whatever_its_clock_says(said: str) -> None:
    script = chief()
    sheet = on_the_block(script)
    scale = make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM, at=now())
    typed = {"column": "weight_car", "text": "95.4", "gauge": scale.pk}
    taken = given(script.put(reading_address(sheet), typed | {"taken_at": said}), 201)
    row = SheetReading.objects.get()
    assert row.taken_at == row.received_at
    assert row.clock_said[:8] == said[:8]
    assert taken["reading"]["clock_said"] == row.clock_said
    right = now().isoformat()
    taken = given(script.put(reading_address(sheet), typed | {"taken_at": right}), 201)
    assert taken["reading"]["clock_said"] == ""


def test_what_is_not_written_as_a_time_is_no_time() -> None:
    script = chief()
    sheet = on_the_block(script)
    scale = make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM, at=now())
    typed = {"column": "weight_car", "text": "95.4", "gauge": scale.pk}
    for wrong in ("half past eight", "5 May 2026", ""):
        refused = script.put(reading_address(sheet), typed | {"taken_at": wrong})
        assert problem_of(refused, 400)["errors"][0]["field"] == "taken_at"
    assert not SheetReading.objects.exists()


def test_what_a_car_is_is_confirmed_in_the_drawers_and_on_the_block() -> None:
    """Until then it is its owner's word, which no script can make more of."""
    keeper, script = script_of(make_person(Role.PARTS_KEEPER)), chief()
    first, second = make_car(is_confirmed=False), make_car(is_confirmed=False)
    shown = given(keeper.get(f"cars/{first.tag}"))
    assert not shown["is_confirmed"]
    owner = script_of(first.owner)
    assert problem_of(owner.post(f"cars/{first.tag}/confirm"), 403)
    shown = given(keeper.post(f"cars/{first.tag}/confirm"))
    assert shown["is_confirmed"]
    sheet = on_the_block(script, car=second)
    given(script.post(f"sheets/{sheet}/car"))
    assert given(script.get(f"cars/{second.tag}"))["is_confirmed"]
    problem_of(script.post("sheets/20000101-1-001/car"), 404)


def on_the_block(script: Script, *, car: Car | None = None) -> str:
    night = given(script.post("nights", planned()), 201)["id"]
    given(script.post(f"nights/{night}/open"))
    said = {"car": (car or make_car()).tag, "race_class": make_class().pk}
    entry = given(script.post(f"nights/{night}/entries", said), 201)["id"]
    number: str = given(script.post(f"entries/{entry}/block"), 201)["number"]
    return number


@pytest.mark.parametrize(
    ("body", "status", "field", "code"),
    [
        ({"column": "weight_car", "text": "95", "by": 3}, 400, "by", "unknown"),
        ({"column": "weight_car", "text": 95}, 400, "text", "wrong_type"),
        ({"text": "95"}, 400, "column", "required"),
        ({"column": "wing", "text": "95"}, 422, "column", "not_asked"),
        ({"column": "weight_car", "text": "95"}, 422, "gauge", "gauge_missing"),
        ({"column": "weight_car", "text": "heavy"}, 422, "text", "not_a_number"),
    ],
)
def test_what_is_wrong_is_said_of_its_field(
    body: Any, status: int, field: str, code: str
) -> None:
    script = chief()
    sheet = on_the_block(script)
    problem = problem_of(script.put(reading_address(sheet), body), status)
    assert [(one["field"], one["code"]) for one in problem["errors"]] == [(field, code)]


def test_a_plan_is_changed_on_the_state_that_was_seen() -> None:
    script = chief()
    said = planned()
    night = given(script.post("nights", said), 201)
    at = f"nights/{night['id']}"
    changed = said | {"name": "Third round, moved"}
    assert problem_of(script.put(at, changed), 428)["code"] == "state_not_said"
    tag = script.get(at).headers["ETag"]
    assert given(script.put(at, changed, if_match=tag))["name"] == "Third round, moved"
    # RFC 9110, 13.1.1: a state that is no longer so is 412, and nothing is written.
    answer = script.put(at, said, if_match=tag)
    assert problem_of(answer, 412)["code"] == "changed_since"
    assert RaceNight.objects.get().name == "Third round, moved"


def test_a_key_gets_its_answer_once() -> None:
    script, said = chief(), planned()
    first = script.post("nights", said, idempotency_key="a-1")
    again = script.post("nights", said, idempotency_key="a-1")
    assert given(first, 201) == given(again, 201)
    assert again.headers["Idempotency-Replayed"] == "true"
    assert RaceNight.objects.count() == 1
    other = script.post("nights", said | {"name": "x"}, idempotency_key="a-1")
    assert problem_of(other, 422)["code"] == "key_used"
    # What is refused uses no key up.
    refused = script.post("nights", said, idempotency_key="a-2")
    assert problem_of(refused, 422)["code"] == "night_there"
    assert KeptAnswer.objects.count() == 1
    given(script.post("nights", said | {"name": "y"}, idempotency_key="a-2"), 201)


def test_a_list_is_read_page_by_page_while_others_write() -> None:
    script = chief()
    first_day = now().date()
    for number in range(7):
        RaceNight.objects.create(
            name=f"n{number}", date=first_day + timedelta(days=number // 2)
        )
    seen: list[str] = []
    at = "nights?limit=3&ordering=date"
    while at:
        page = given(script.get(at))
        seen += [one["name"] for one in page["items"]]
        # Earlier than all that follows: it shifts no page.
        RaceNight.objects.create(name=f"new{len(seen)}", date=first_day)
        at = page["next"]
    assert seen == [f"n{number}" for number in range(7)]
    down = given(script.get("nights?limit=200&ordering=-date"))["items"]
    dates = [one["date"] for one in down]
    assert dates == sorted(dates, reverse=True)
    problem_of(script.get("nights?cursor=W10"), 400)
    problem_of(script.get("nights?state=over"), 400)
    problem_of(script.get("nights?limit=201"), 400)
    # RFC 3339, 5.6: a full-date is written in one way.
    for wrong in ("8.5.2026", "2026-5-8", "05/08/2026", "2026-02-30"):
        problem_of(script.get(f"nights?until={wrong}"), 400)
    assert given(script.get("nights?until=2000-02-29"))["items"] == []
    assert given(script.get("nights?state=open"))["items"] == []


def test_lists_ask_the_same_of_the_database_however_long(
    same_queries: QueryGrowth,
) -> None:
    script = chief()
    edition = make_edition()
    race_class = make_class()

    def add(count: int) -> None:
        for _ in range(count):
            number = RaceNight.objects.count()
            night = RaceNight.objects.create(name=f"n{number}", date=now().date())
            night.classes.create(race_class=race_class, edition=edition)

    # That the token is in use is noted once a minute: here.
    given(script.get("nights"))
    same_queries(lambda: given(script.get("nights?limit=200")), add, at_most=6)


def test_a_member_sees_their_own_sheets_alone() -> None:
    script = chief()
    sheet = on_the_block(script)
    owner = Sheet.objects.get(number=sheet).entry.car.owner
    own = script_of(owner)
    assert given(own.get(f"sheets/{sheet}"))["sheet"]["number"] == sheet
    other = script_of(make_person())
    problem_of(other.get(f"sheets/{sheet}"), 404)
    assert given(other.get("sheets"))["items"] == []
    assert [one["number"] for one in given(own.get("sheets"))["items"]] == [sheet]
