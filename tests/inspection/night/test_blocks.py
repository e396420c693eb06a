"""Blocks: named on their page, taken away while no sheet names them."""

import pytest
from django.test import Client

from inspection.actions.night.blocks import add_block, remove_block
from inspection.actions.sheets import start_sheet
from inspection.models import Block
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import AuditRow
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def chief() -> Client:
    client = Client()
    client.force_login(builders.make_person(Role.CHIEF_SCRUTINEER))
    return client


def test_block_is_added_once_and_taken_away(chief: Client) -> None:
    assert chief.post("/blocks", {"name": "Window"})["Location"] == "/blocks"
    again = chief.post("/blocks", {"name": "Window"})
    assert again.status_code == 422
    assert "A block is already called “Window”" in again.content.decode()
    block = Block.objects.get()
    assert f"/blocks/{block.pk}/remove" in chief.get("/blocks").content.decode()
    chief.post(f"/blocks/{block.pk}/remove")
    assert not Block.objects.exists()
    assert AuditRow.objects.get(event="block.removed").subject == "Window"


def test_block_that_a_sheet_names_stays(chief: Client) -> None:
    block = add_block("Stage", act=builders.act())
    entry = builders.make_entry()
    start_sheet(entry.pk, block=block, changed=(), act=builders.act())
    assert "/remove" not in chief.get("/blocks").content.decode()
    with pytest.raises(RefusedError) as refusal:
        remove_block(block, act=builders.act())
    assert refusal.value.code == "block_in_use"
    page = chief.post(f"/blocks/{block.pk}/remove", follow=True)
    assert "Sheets were taken on “Stage”" in page.content.decode()


def test_block_that_no_sheet_names_is_renamed_in_place(chief: Client) -> None:
    block = add_block("Window", act=builders.act())
    add_block("Door", act=builders.act())
    address = f"/blocks/{block.pk}"
    page = chief.get(address).content.decode()
    assert 'value="Window"' in page
    assert "<h1>Window</h1>" in page
    taken = chief.post(address, {"name": "Door"})
    assert taken.status_code == 422
    assert "A block is already called “Door”" in taken.content.decode()
    chief.post(address, {"name": "Stage"})
    chief.post(address, {"name": "Stage"})
    block.refresh_from_db()
    assert block.name == "Stage"
    assert AuditRow.objects.filter(event="block.renamed").count() == 1


def test_sheets_keep_the_name_that_their_block_had(chief: Client) -> None:
    block = add_block("Stage", act=builders.act())
    person = builders.make_scrutineer()
    chief.post(f"/blocks/{block.pk}", {"name": "Stage", "measured_by": person.name})
    entry = builders.make_entry()
    sheet = start_sheet(entry.pk, block=block, changed=(), act=builders.act())
    chief.post(f"/blocks/{block.pk}", {"name": "Bar", "measured_by": person.name})
    sheet.refresh_from_db()
    assert sheet.block is not None
    assert sheet.block.name == "Stage"
    now = Block.objects.get(is_in_use=True)
    assert (now.name, now.measured_by) == ("Bar", person)
    # The old name is free, and is the same block's when it comes back.
    chief.post(f"/blocks/{now.pk}", {"name": "Stage", "measured_by": person.name})
    assert Block.objects.get() == block
    assert add_block("Bar", act=builders.act()).name == "Bar"


def test_board_says_who_measures_at_a_block_that_nobody_was_put_at(
    chief: Client,
) -> None:
    block = add_block("Stage", act=builders.act())
    person = builders.make_scrutineer()
    entry = builders.make_entry()
    start_sheet(entry.pk, block=block, changed=(), act=builders.act(person))
    page = " ".join(chief.get("/").content.decode().split())
    assert f'<b>Stage</b> <span class="faint">{person}</span>' in page


def test_person_measures_at_one_block(chief: Client) -> None:
    window, door = (add_block(name, act=builders.act()) for name in ("W", "D"))
    person = builders.make_scrutineer()
    for block in (window, door):
        chief.post(
            f"/blocks/{block.pk}", {"name": block.name, "measured_by": person.name}
        )
    assert f"{person} measures there" in chief.get("/blocks").content.decode()
    assert [one.name for one in Block.objects.filter(measured_by=person)] == ["D"]
    browser = Client()
    browser.force_login(person)
    page = browser.get(f"/entry/{builders.make_entry().pk}/block").content.decode()
    assert f'<option value="{door.pk}" selected>' in page
    chief.post(f"/blocks/{door.pk}", {"name": "D", "measured_by": ""})
    assert not Block.objects.filter(measured_by=person).exists()
