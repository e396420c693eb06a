"""On the wall: notices, how we measure, blank sheets, every sheet, what was paper."""

import datetime as dt
import json
import re

import pytest
from django.test import Client

from inspection.actions.night.notices import hang_notice, take_notice_down
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import start_sheet
from inspection.compute.night import Decision, NoticeKind
from inspection.compute.rulebooks import Answer
from inspection.loaders.seals.held_sheets import differences_of_night
from inspection.models import Notice, Sheet
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from tests import builders

pytestmark = pytest.mark.django_db


def client_of(*roles: Role) -> Client:
    client = Client()
    client.force_login(builders.make_person(*roles))
    return client


@pytest.fixture
def chief() -> Client:
    return client_of(Role.CHIEF_SCRUTINEER)


def test_chief_hangs_a_notice_and_takes_it_down(chief: Client) -> None:
    builders.make_night()
    assert "Nothing hangs on the wall" in chief.get("/notices").content.decode()
    said = {"text": "Block Two is out of use.", "kind": "notice"}
    chief.post("/notices", said)
    member = client_of(Role.MEMBER)
    assert "Block Two is out of use." in member.get("/").content.decode()
    member.post("/notices", said)
    notice = Notice.objects.get()
    chief.post(f"/notices/{notice.pk}/down")
    again = chief.post(f"/notices/{notice.pk}/down", follow=True)
    assert "taken down already" in again.content.decode()
    assert "Block Two" not in member.get("/").content.decode()
    assert chief.post("/notices", {"text": " ", "kind": "notice"}).status_code == 422
    with pytest.raises(RefusedError) as refusal:
        hang_notice(" ", kind=NoticeKind.NOTICE, act=builders.act())
    assert refusal.value.code == "text_missing"
    with pytest.raises(RefusedError):
        take_notice_down(notice, act=builders.act())


def test_how_we_measure_says_what_is_asked_and_the_club_s_own_words(
    chief: Client,
) -> None:
    empty = chief.get("/notices/how").content.decode()
    assert "It fills when a rulebook is published." in empty
    builders.make_edition()
    said = {"text": "Warm the caliper first.", "kind": "how we measure here"}
    chief.post("/notices", said)
    page = chief.get("/notices/how").content.decode()
    assert "Warm the caliper first." in page
    assert "Saloon" in page
    assert "Warm the caliper first." not in chief.get("/").content.decode()


def test_blank_sheet_has_a_line_for_all_that_a_class_is_asked(chief: Client) -> None:
    race_class = builders.make_class()
    rules = (
        builders.rule("1", "weight_car", lower=80),
        builders.rule("2", "width_rear", upper=64, classes=(race_class.name,)),
        builders.rule("3", "gear_ratio", lower=2),
    )
    night = builders.make_night(builders.make_edition(rules))
    page = chief.get(f"/night/{night.pk}/blank").content.decode()
    assert page.count('<article class="blank wall-page">') == 1
    assert page.count('<th scope="row">') == 4
    # Teeth are counted: a unit of 1 is none.
    units = re.findall(r"<td[^>]*>\s*([^<\s]*)\s*</td>\s*</tr>", page)
    assert sorted(units) == ["", "", "g", "mm"]


def test_every_sheet_is_in_one_print(chief: Client) -> None:
    night = builders.make_night()
    empty = chief.get(f"/night/{night.pk}/sheets").content.decode()
    assert "Nothing has been sealed" in empty
    for _ in range(2):
        sheet = builders.make_sheet(entry=builders.make_entry(night=night))
        gauge = builders.make_gauge()
        builders.read(sheet, "tyre_diameter_rear_left", "17.1", gauge=gauge)
        builders.read(sheet, "motor_sealed", answer=Answer.YES)
        builders.send_back(sheet.number, act=builders.act(minutes=3))
    page = chief.get(f"/night/{night.pk}/sheets").content.decode()
    assert page.count('<article class="wall-page print-sheet">') == 2
    assert "17.1" in page
    assert "Motor sealed: yes, " in " ".join(page.split())
    assert "2 sealed sheets, a page each" in page
    listed = chief.get(f"/night/{night.pk}/list").content.decode()
    assert f'href="/night/{night.pk}/sheets"' in listed
    assert "sent back · Person" in listed


def test_sheet_from_paper_says_so_with_its_own_time(chief: Client) -> None:
    night = builders.make_night()
    entry = builders.make_entry(night=night)
    measured = builders.NOW + dt.timedelta(minutes=20)
    for wrong in (measured + dt.timedelta(days=1), measured - dt.timedelta(days=1)):
        with pytest.raises(RefusedError) as refusal:
            start_sheet(
                entry.pk,
                block=None,
                changed=(),
                act=builders.act(minutes=60),
                paper_at=wrong,
            )
        assert refusal.value.field == "paper_at"
    sheet = start_sheet(
        entry.pk,
        block=None,
        changed=(),
        act=builders.act(minutes=60),
        paper_at=measured,
    )
    chief_person = builders.make_person(Role.CHIEF_SCRUTINEER)
    seal = seal_sheet(
        sheet.number,
        decision=Decision.SENT_BACK,
        act=builders.act(chief_person, minutes=61),
        reason="The rear wheels rub on the body.",
    )
    assert json.loads(seal.content)["paper_at"] == measured.isoformat()
    assert differences_of_night(night) == []
    page = chief.get(f"/sheet/{sheet.number}").content.decode()
    assert "from paper, measured 8 May 2026" in page
    assert "from paper" in chief.get(f"/night/{night.pk}/sheets").content.decode()


def test_form_asks_when_the_paper_was_written(chief: Client) -> None:
    entry = builders.make_entry()
    address = f"/entry/{entry.pk}/block"
    assert "From paper: measured at" in chief.get(address).content.decode()
    refused = chief.post(address, {"paper_at": "2026-05-01T20:00"})
    assert "On paper it was measured after" in refused.content.decode()
    chief.post(address, {"paper_at": "2026-05-09T20:00"})
    assert Sheet.objects.get().paper_at is not None
