"""What a club sets up before it can inspect: classes, blocks; and closing a night."""

import pytest

from inspection.actions.night.blocks import add_block
from inspection.actions.race_nights import close_night
from inspection.actions.rulebooks import add_race_class
from inspection.models import Block, RaceClass, Rulebook
from inventory.actions.refusals import RefusedError
from inventory.models import AuditRow
from tests.builders import act, make_night, make_scrutineer, make_sheet, send_back

pytestmark = pytest.mark.django_db


def test_a_class_is_added_under_its_rulebook_once() -> None:
    made = add_race_class("Saloon", rulebook_name="Club rules", act=act())
    assert made.rulebook.name == "Club rules"
    add_race_class("Prototype", rulebook_name="Club rules", act=act())
    assert Rulebook.objects.count() == 1
    with pytest.raises(RefusedError) as refusal:
        add_race_class("Saloon", rulebook_name="Other rules", act=act())
    assert (refusal.value.code, refusal.value.field) == ("name_taken", "name")
    assert RaceClass.objects.count() == 2
    assert Rulebook.objects.count() == 1
    assert AuditRow.objects.filter(event="class.added").count() == 2


def test_a_block_is_added_once() -> None:
    add_block("Window", act=act())
    with pytest.raises(RefusedError) as refusal:
        add_block("Window", act=act())
    assert (refusal.value.code, refusal.value.field) == ("name_taken", "name")
    assert Block.objects.count() == 1
    assert AuditRow.objects.filter(event="block.added").count() == 1


def test_a_night_is_closed_once() -> None:
    night = close_night(make_night(), act=act(minutes=90))
    assert night.closed_at == act(minutes=90).at
    with pytest.raises(RefusedError) as refusal:
        close_night(night, act=act(minutes=95))
    assert refusal.value.code == "night_not_open"
    night.refresh_from_db()
    assert night.closed_at == act(minutes=90).at


def test_a_night_with_a_car_on_the_block_is_not_closed() -> None:
    sheet = make_sheet()
    night = sheet.entry.night
    with pytest.raises(RefusedError) as refusal:
        close_night(night, act=act(minutes=90))
    assert refusal.value.code == "car_on_block"
    night.refresh_from_db()
    assert night.closed_at is None
    send_back(sheet.number, act=act(make_scrutineer(), minutes=91))
    assert close_night(night, act=act(minutes=92)).closed_at is not None
