"""Looks that an edition lets be answered together, each written on the sheet."""

import pytest
from django.test import Client

from inspection.compute.rulebooks import Answer, Evidence
from inspection.models import Sheet, SheetReading
from tests import builders

pytestmark = pytest.mark.django_db

RULES = (
    builders.rule("1", "motor_sealed", required=Answer.YES, evidence=Evidence.AT_ONCE),
    builders.rule("2", "tyres_treated", required=Answer.NO, evidence=Evidence.AT_ONCE),
    builders.rule("3", "lights_work", required=Answer.YES),
    builders.rule("4", "weight_car", lower=80),
)


@pytest.fixture
def sheet() -> Sheet:
    night = builders.make_night(builders.make_edition(RULES))
    entry = builders.make_entry(car=builders.make_car(), night=night)
    return builders.make_sheet(entry=entry, by=builders.make_scrutineer())


def client_of(sheet: Sheet) -> Client:
    client = Client()
    client.force_login(sheet.started_by)
    return client


def test_only_the_marked_looks_are_answered_each_as_its_rule_asks(
    sheet: Sheet,
) -> None:
    client = client_of(sheet)
    page = client.get(f"/sheet/{sheet.number}/block").content.decode()
    assert "All as they should be" in page
    answer = client.post(f"/sheet/{sheet.number}/looks")
    assert answer.status_code == 302
    read = dict(SheetReading.objects.values_list("column", "answer"))
    assert read == {"motor_sealed": "yes", "tyres_treated": "no"}
    assert {one.by for one in SheetReading.objects.all()} == {sheet.started_by}
    # Asked once more, there is nothing left to answer.
    client.post(f"/sheet/{sheet.number}/looks")
    assert SheetReading.objects.count() == 2


def test_a_look_that_was_answered_otherwise_stays(sheet: Sheet) -> None:
    client = client_of(sheet)
    builders.read(sheet, "motor_sealed", answer=Answer.NO, by=sheet.started_by)
    client.post(f"/sheet/{sheet.number}/looks")
    read = dict(SheetReading.objects.values_list("column", "answer"))
    assert read == {"motor_sealed": "no", "tyres_treated": "no"}


def test_sealed_sheet_takes_no_look(sheet: Sheet) -> None:
    builders.read(sheet, "lights_work", answer=Answer.NO, by=sheet.started_by)
    builders.seal_as_read(sheet, by=sheet.started_by)
    client_of(sheet).post(f"/sheet/{sheet.number}/looks")
    assert SheetReading.objects.get().column == "lights_work"
