"""Stock: parts coming in and every move, with the races that members run."""

import pytest

from inventory.actions.refusals import RefusedError
from inventory.actions.stock import (
    NewPart,
    hand_out_part,
    receive_part,
    release_part,
    reserve_part,
    restore_part,
    retire_part,
    take_back_part,
)
from inventory.compute.roles import Role
from inventory.compute.stock import GearFacts, MotorFacts, PartFacts, TyreFacts
from inventory.compute.stock.tags import read_tag
from inventory.compute.stock.words import GearRole, Move, PartKind, PartState
from inventory.models import AuditRow, Part, PartMove
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def tyre() -> Part:
    return builders.make_part()


def state(part: Part) -> str:
    return Part.objects.get(pk=part.pk).state


@pytest.mark.parametrize(
    ("facts", "kind"),
    [
        (TyreFacts(compound="soft"), PartKind.TYRE),
        (GearFacts(role=GearRole.SPUR, teeth=28), PartKind.GEAR),
        (MotorFacts(family="hand-out"), PartKind.MOTOR),
    ],
)
def test_part_comes_in_with_a_tag_that_can_be_read(
    facts: PartFacts, kind: PartKind
) -> None:
    part = builders.make_part(facts)
    assert part.kind == kind
    assert read_tag(part.tag) == part.tag
    assert part.moves.get().move == Move.RECEIVE


def test_tag_that_is_taken_is_refused(tyre: Part) -> None:
    with pytest.raises(RefusedError) as refusal:
        receive_part(NewPart(facts=TyreFacts(), tag=tyre.tag), act=builders.act())
    assert refusal.value.field == "tag"
    assert Part.objects.count() == 1


def test_reserved_part_is_held_by_who_asked_and_by_nobody_else(tyre: Part) -> None:
    first, second = builders.make_person(), builders.make_person()
    reserve_part(tyre, act=builders.act(first))
    assert Part.objects.get().holder == first
    with pytest.raises(RefusedError) as refusal:
        reserve_part(tyre, act=builders.act(second))
    assert refusal.value.code == "part_not_free"
    assert tyre.tag in refusal.value.sentence
    assert PartMove.objects.filter(move=Move.RESERVE).count() == 1


def test_reservation_is_given_up_by_its_holder_or_the_keeper(tyre: Part) -> None:
    holder, other = builders.make_person(), builders.make_person()
    keeper = builders.make_person(Role.PARTS_KEEPER)
    reserve_part(tyre, act=builders.act(holder))
    with pytest.raises(RefusedError) as refusal:
        release_part(tyre, act=builders.act(other))
    assert refusal.value.code == "not_yours"
    assert state(tyre) == PartState.RESERVED
    release_part(tyre, act=builders.act(keeper))
    assert state(tyre) == PartState.IN_STOCK
    assert Part.objects.get().holder is None


def test_reserved_part_is_handed_out_only_to_its_holder(tyre: Part) -> None:
    holder, other = builders.make_person(), builders.make_person()
    reserve_part(tyre, act=builders.act(holder))
    with pytest.raises(RefusedError) as refusal:
        hand_out_part(tyre, other, act=builders.act())
    assert refusal.value.field == "to_person"
    hand_out_part(tyre, holder, act=builders.act())
    assert state(tyre) == PartState.WITH_MEMBER
    take_back_part(tyre, act=builders.act())
    assert state(tyre) == PartState.IN_STOCK
    assert AuditRow.objects.filter(event="part.taken_back").exists()


def test_part_on_a_car_is_taken_off_there(tyre: Part) -> None:
    builders.fit(builders.make_car(), tyre)
    with pytest.raises(RefusedError) as refusal:
        take_back_part(tyre, act=builders.act())
    assert refusal.value.code == "on_a_car"
    assert "rear left" in refusal.value.sentence
    assert state(tyre) == PartState.ON_CAR


def test_part_is_retired_with_a_reason_and_only_from_stock(tyre: Part) -> None:
    with pytest.raises(RefusedError) as refusal:
        retire_part(tyre, reason=" ", act=builders.act())
    assert refusal.value.field == "note"
    hand_out_part(tyre, builders.make_person(), act=builders.act())
    with pytest.raises(RefusedError):
        retire_part(tyre, reason="cut", act=builders.act())
    take_back_part(tyre, act=builders.act())
    retire_part(tyre, reason="cut", act=builders.act())
    assert state(tyre) == PartState.RETIRED
    with pytest.raises(RefusedError):
        reserve_part(tyre, act=builders.act())


def test_retirement_is_taken_back_with_a_reason(tyre: Part) -> None:
    retire_part(tyre, reason="cut", act=builders.act())
    with pytest.raises(RefusedError) as refusal:
        restore_part(tyre, reason="oops", act=builders.act())
    assert refusal.value.field == "reason"
    restore_part(tyre, reason="the wrong one was cut", act=builders.act())
    assert state(tyre) == PartState.IN_STOCK
    last = tyre.moves.latest("pk")
    assert (last.move, last.note) == (Move.RESTORE, "the wrong one was cut")
    with pytest.raises(RefusedError) as refusal:
        restore_part(tyre, reason="the wrong one was cut", act=builders.act())
    assert refusal.value.code == "part_not_free"
