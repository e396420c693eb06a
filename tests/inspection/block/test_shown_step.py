"""An answer counts for the step that was on the screen when it was given."""

import uuid
from typing import Any

import pytest
from django.test import Client

from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.loaders.block.steps import load_steps
from inspection.models import Sheet, SheetReading
from inventory.compute.measuring import CheckResult, Instrument
from inventory.compute.numbers import Unit
from inventory.forms.gauge_choice import not_offered
from inventory.loaders.gauges import load_gauges
from inventory.models import GaugeMode
from tests import builders
from tests.builders import rule

pytestmark = pytest.mark.django_db
JSON = {"Accept": "application/json"}
RULES = (
    rule("1", "motor_sealed", required="yes"),
    rule("2", "clearance_rear", lower=1),
)


@pytest.fixture
def browser() -> Client:
    client = Client()
    client.force_login(builders.make_scrutineer())
    return client


@pytest.fixture
def sheet() -> Sheet:
    edition = builders.make_edition(RULES)
    entry = builders.make_entry(night=builders.make_night(edition))
    return builders.make_sheet(entry=entry)


@pytest.fixture
def slips() -> GaugeMode:
    return builders.make_gauge()


def answered(column: str, shown: str | None, gauge: GaugeMode) -> dict[str, Any]:
    said = {} if shown is None else {"shown": shown}
    is_slip = column == "clearance_rear"
    return said | {
        "reading_id": uuid.uuid4(),
        "column": column,
        "answer": "yes",
        "limit": "1.00" if is_slip else "",
        "gauge": gauge.pk if is_slip else "",
    }


@pytest.mark.parametrize("headers", [JSON, {}])
@pytest.mark.parametrize("column", ["motor_sealed", "clearance_rear"])
@pytest.mark.parametrize("shown", [None, "", "lights_work", "no such step"])
def test_answer_to_another_step_is_refused(
    browser: Client,
    sheet: Sheet,
    slips: GaugeMode,
    headers: dict[str, str],
    column: str,
    shown: str | None,
) -> None:
    typed = answered(column, shown, slips)
    answer = browser.post(f"/sheet/{sheet.number}/reading", typed, headers=headers)
    assert answer.status_code == 422
    names = {
        "motor_sealed": "Motor sealed",
        "clearance_rear": "Chassis clearance, rear",
    }
    seen = {"lights_work": "Lights work", "no such step": "“no such step”"}
    sentence = (
        f"{names[column]} is not taken: the answer was given while the page showed "
        f"{seen.get(shown or '', 'no step')}. Answer it again."
    )
    if headers:
        assert answer.json()["errors"] == [
            {"field": "answer", "code": "answer_elsewhere", "sentence": sentence}
        ]
    else:
        assert sentence in answer.content.decode()
    assert not SheetReading.objects.exists()


@pytest.mark.parametrize("column", ["motor_sealed", "clearance_rear"])
def test_answer_to_the_step_that_was_shown_is_taken(
    browser: Client, sheet: Sheet, slips: GaugeMode, column: str
) -> None:
    typed = answered(column, column, slips)
    answer = browser.post(f"/sheet/{sheet.number}/reading", typed, headers=JSON)
    assert answer.status_code == 200
    assert SheetReading.objects.get().column == column


def test_figure_needs_no_word_of_what_was_shown(
    browser: Client, sheet: Sheet, slips: GaugeMode
) -> None:
    typed = {
        "reading_id": uuid.uuid4(),
        "column": "clearance_rear",
        "text": "1.05",
        "gauge": slips.pk,
    }
    answer = browser.post(f"/sheet/{sheet.number}/reading", typed, headers=JSON)
    assert answer.status_code == 200


def test_answer_without_a_step_is_refused_for_that(
    browser: Client, sheet: Sheet
) -> None:
    typed = {"reading_id": uuid.uuid4(), "answer": "yes"}
    answer = browser.post(f"/sheet/{sheet.number}/reading", typed, headers=JSON)
    assert [error["field"] for error in answer.json()["errors"]] == ["column"]


def test_gauges_of_a_size_are_those_that_take_it_and_may_be_used() -> None:
    edition = builders.make_edition([rule("1", "tyre_diameter_rear", lower=18)])
    entry = builders.make_entry(night=builders.make_night(edition))
    sheet = builders.make_sheet(entry=entry)
    barred = builders.make_gauge(checked=CheckResult.FAILED)
    builders.make_gauge(instrument=Instrument.SLIP_GAUGE)
    builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    micrometer = builders.make_gauge(instrument=Instrument.MICROMETER)
    caliper = builders.make_gauge()
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    steps = load_steps(loaded, load_gauges(builders.NOW))
    (left,) = (one for one in steps if one.column == "tyre_diameter_rear_left")
    assert {one.mode for one in left.gauges} == {caliper, micrometer}
    assert [one.mode for one in left.barred] == [barred]
    # What cannot take it is not offered and not spoken of.
    assert not_offered(left.barred) == f"Not offered: {barred.gauge} (check failed)."
    assert not_offered(left.gauges) == ""
