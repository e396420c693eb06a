"""Findings of a sealed sheet: worked out again under today's number, else stored."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from inspection.actions.seals import seal_sheet
from inspection.compute.judging import JUDGING, Outcome
from inspection.compute.night import Decision
from inspection.compute.rulebooks import Answer
from inspection.loaders.block.seals import finding_as_json
from inspection.loaders.block.sheets import LoadedSheet, load_sheet, sheets_to_load
from inspection.models import Seal, SealContent, Sheet
from inventory.compute.measuring import Instrument
from inventory.compute.numbers import Unit
from tests import builders
from tests.lifted import guards_lifted

pytestmark = pytest.mark.django_db

#: What the findings of the first seals said.
FIRST_KEYS = frozenset(
    {
        "rule", "quantity", "lower", "upper", "force", "outcome", "admitted", "taken",
        "value", "u", "margin", "point",
    }
)  # fmt: skip


@pytest.fixture
def sheet() -> Sheet:
    sheet = builders.make_sheet(by=builders.make_scrutineer())
    scale = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    caliper = builders.make_gauge()
    builders.read(sheet, "weight_car", "85", gauge=scale)
    for side in ("left", "right"):
        builders.read(sheet, f"tyre_diameter_rear_{side}", "18.5", gauge=caliper)
    builders.read(sheet, "motor_sealed", answer=Answer.YES)
    seal_sheet(
        sheet.number,
        decision=Decision.PASSED,
        act=builders.act(builders.make_scrutineer()),
    )
    return sheet


def loaded(sheet: Sheet) -> LoadedSheet:
    return load_sheet(sheets_to_load().get(pk=sheet.pk))


def content_of(sheet: Sheet) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(Seal.objects.get(sheet=sheet).content)
    return found


def rewrite(sheet: Sheet, change: Callable[[dict[str, Any]], None]) -> None:
    content = content_of(sheet)
    change(content)
    seal = Seal.objects.get(sheet=sheet)
    with guards_lifted(SealContent):
        SealContent.objects.filter(seal=seal).update(
            packed=SealContent.of(seal, json.dumps(content)).packed
        )


def test_seal_says_its_number_and_its_findings_in_full(sheet: Sheet) -> None:
    content = content_of(sheet)
    assert content["judging"] == JUDGING >= 1
    assert content["findings"] == [
        finding_as_json(found) for found in loaded(sheet).findings
    ]
    weight = content["findings"][0]
    assert weight["outcome"] == "pass"
    assert weight["critical"] is None
    # k = 1.6449 at 95 %, JCGM 100 table G.1 (normal); u is unrounded millionths.
    assert weight["guard_band"] == pytest.approx(1.644854 * weight["u"], rel=1e-6)


def test_sheet_of_todays_number_is_judged_again(sheet: Sheet) -> None:
    def say_fail(content: dict[str, Any]) -> None:
        content["findings"][0]["outcome"] = "fail"

    rewrite(sheet, say_fail)
    assert loaded(sheet).findings[0].outcome is Outcome.PASS
    assert not loaded(sheet).is_of_older_judging


def test_sheet_of_an_older_number_shows_what_its_seal_holds(
    sheet: Sheet, client_of: Callable[[Any], Client]
) -> None:
    before = loaded(sheet).findings

    def of_an_older_number(content: dict[str, Any]) -> None:
        content["judging"] = JUDGING - 1
        content["findings"][0] |= {"outcome": "conditional pass", "margin": 29_000}

    rewrite(sheet, of_an_older_number)
    again = loaded(sheet)
    assert again.is_of_older_judging
    weight = again.findings[0]
    assert weight.outcome is Outcome.CONDITIONAL_PASS
    assert weight.margin == pytest.approx(0.029)
    assert weight.probability == before[0].probability
    assert [finding_as_json(found) for found in again.findings[1:]] == [
        finding_as_json(found) for found in before[1:]
    ]
    page = client_of(builders.make_scrutineer()).get(f"/sheet/{sheet.number}")
    assert f"number {JUDGING - 1} then, {JUDGING} today" in page.content.decode()


def test_first_seals_had_no_number_and_fewer_figures(
    sheet: Sheet, client_of: Callable[[Any], Client]
) -> None:
    def as_the_first(content: dict[str, Any]) -> None:
        del content["judging"]
        content["format"] = "feelerbook sheet 1"
        content["findings"] = [
            {key: row[key] for key in FIRST_KEYS} for row in content["findings"]
        ]

    rewrite(sheet, as_the_first)
    again = loaded(sheet)
    assert again.judging == 0
    assert [found.outcome for found in again.findings] == [Outcome.PASS] * 3
    assert again.findings[0].probability is None
    page = client_of(builders.make_scrutineer()).get(f"/sheet/{sheet.number}")
    assert page.status_code == 200
    assert f"number 0 then, {JUDGING} today" in page.content.decode()


def test_page_of_today_says_nothing_of_older_judging(
    sheet: Sheet, client_of: Callable[[Any], Client]
) -> None:
    page = client_of(builders.make_scrutineer()).get(f"/sheet/{sheet.number}")
    assert "Judging has changed" not in page.content.decode()


def test_rule_that_is_in_no_edition_is_left_to_the_check(sheet: Sheet) -> None:
    def name_another(content: dict[str, Any]) -> None:
        content["judging"] = 0
        content["findings"][0]["rule"] = "77"

    rewrite(sheet, name_another)
    assert [found.rule.number for found in loaded(sheet).findings] == ["2", "3"]


def test_slip_that_goes_says_so_in_its_finding() -> None:
    rules = [builders.rule("1", "clearance_rear", lower=0.8)]
    sheet = builders.make_sheet(
        entry=builders.make_entry(
            night=builders.make_night(builders.make_edition(rules))
        )
    )
    slips = builders.make_gauge(instrument=Instrument.FEELER)
    builders.read(sheet, "clearance_rear", "0.9", gauge=slips, answer=Answer.YES)
    found = loaded(sheet).findings[0]
    assert (found.outcome, found.went_under) == (Outcome.PASS, True)
    assert finding_as_json(found)["went_under"] is True
