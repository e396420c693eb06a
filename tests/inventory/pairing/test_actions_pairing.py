"""Pairs confirmed, undone, split, handed out; draws that anyone can run again."""

import hashlib
import subprocess
from collections.abc import Callable, Sequence

import pytest
from django.db import IntegrityError, transaction

from inventory.actions.draws import (
    NewDraw,
    draw_lots,
    hand_out_lots,
    take_back_lots,
)
from inventory.actions.pairing import (
    NewPairing,
    NewSet,
    confirm_pairing,
    hand_out_set,
    split_set,
    take_back_set,
    undo_pairing,
)
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import hand_out_part, reserve_part, take_back_part
from inventory.compute.batches.words import SetEnd
from inventory.compute.stock.tags import read_tag
from inventory.compute.stock.words import Move, PartKind, PartState
from inventory.loaders.batches import load_bag, loose_parts
from inventory.models import (
    AuditRow,
    Draw,
    DrawLot,
    FactChange,
    Pairing,
    Part,
    PartMove,
    PartSet,
    SetMember,
)
from inventory.views.motors import check_lines
from tests import builders
from tests.inventory import bags

pytestmark = pytest.mark.django_db


@pytest.fixture
def four() -> Pairing:
    """Confirm two pairs of four tyres."""
    batch = bags.make_batch("18.40", "18.41", "18.50", "18.52")
    return bags.pair_up(load_bag(batch), [(0, 1), (2, 3)], batch)


def written() -> list[int]:
    return [model.objects.count() for model in (Pairing, PartSet, SetMember, AuditRow)]


def refused_of(call: Callable[[], object]) -> str:
    before = written()
    with pytest.raises(RefusedError) as refusal, transaction.atomic():
        call()
    assert written() == before
    assert refusal.value.sentence.endswith(".")
    return refusal.value.code


def test_pairs_become_bags_with_tags_and_drawers() -> None:
    batch = bags.make_batch("18.40", "18.41", "18.50")
    ids = load_bag(batch).part_ids
    new = NewSet(part_ids=ids[:2], spread=10_000, drawer="P1")
    pairing = confirm_pairing(
        NewPairing(sets=[new], batch=batch, settings={"tolerance": ["0.05"]}),
        act=builders.act(),
    )
    part_set = pairing.sets.get()
    assert read_tag(part_set.tag) == part_set.tag
    assert part_set.tag.startswith("P")
    assert (part_set.spread, part_set.drawer) == (10_000, "P1")
    assert list(part_set.members.values_list("part", flat=True)) == ids[:2]
    assert set(Part.objects.filter(drawer="P1").values_list("pk", flat=True)) == {
        *ids[:2]
    }
    assert load_bag(batch).part_ids == ids[2:]
    assert AuditRow.objects.filter(event="pairing.confirmed").count() == 1


def test_set_of_more_has_a_tag_of_its_own_kind() -> None:
    batch = bags.make_batch("18.40", "18.41", "18.42", "18.43")
    pairing = bags.pair_up(load_bag(batch), [(0, 1, 2, 3)], batch)
    assert pairing.sets.get().tag.startswith("S")


def test_confirmation_is_refused_whole(four: Pairing) -> None:
    batch = bags.make_batch("19.00", "19.01")
    free = load_bag(batch)
    paired = list(SetMember.objects.values_list("part", flat=True))

    def confirm(*pairs: list[int]) -> Callable[[], object]:
        new = NewPairing(sets=[NewSet(part_ids=pair, spread=0) for pair in pairs])
        return lambda: confirm_pairing(new, act=builders.act())

    assert refused_of(confirm()) == "no_pairs"
    assert refused_of(confirm(free.part_ids, free.part_ids)) == "part_twice"
    assert refused_of(confirm([free.part_ids[0], paired[0]])) == "parts_not_free"
    assert refused_of(confirm([free.part_ids[0], 10**6])) == "parts_not_free"
    reserve_part(Part.objects.get(pk=free.part_ids[1]), act=builders.act())
    assert refused_of(confirm(free.part_ids)) == "parts_not_free"


def test_database_lets_a_part_be_in_one_set_only(four: Pairing) -> None:
    member = SetMember.objects.all()[0]
    other = PartSet.objects.exclude(pk=member.part_set_id).get()
    with pytest.raises(IntegrityError), transaction.atomic():
        SetMember.objects.create(part_set=other, part=member.part, position=9)


def test_undo_makes_all_loose_again_and_only_once(four: Pairing) -> None:
    undo_pairing(four, act=builders.act())
    assert {one.ended_by for one in four.sets.all()} == {SetEnd.UNDONE}
    assert len(load_bag(four.batch)) == 4
    assert refused_of(lambda: undo_pairing(four, act=builders.act())) == "undone"


def test_undo_lays_each_tyre_where_it_lay() -> None:
    batch = bags.make_batch("18.40", "18.41", "18.60", "18.61")
    parts = [one.part for one in batch.members.select_related("part")]
    for place, part in enumerate(parts):
        Part.objects.filter(pk=part.pk).update(drawer=f"old {place}")
    ids = [part.pk for part in parts]
    new = NewPairing(
        batch=batch,
        sets=[
            NewSet(part_ids=ids[:2], spread=10_000, drawer="pairs"),
            # Without a drawer they stay where they are.
            NewSet(part_ids=ids[2:], spread=10_000),
        ],
    )
    made = confirm_pairing(new, act=builders.act())
    assert Part.objects.filter(drawer="pairs").count() == 2
    # One was moved on since, and stays there.
    Part.objects.filter(pk=ids[1]).update(drawer="box")
    undo_pairing(made, act=builders.act())
    lies = dict(Part.objects.values_list("pk", "drawer"))
    assert [lies[pk] for pk in ids] == ["old 0", "box", "old 2", "old 3"]
    # Each way into another drawer stands beside the part, and why.
    pair = made.sets.get(drawer="pairs").tag
    told = FactChange.objects.order_by("pk").values_list(
        "part", "fact", "before", "after", "reason"
    )
    assert list(told) == [
        (ids[0], "drawer", "old 0", "pairs", f"paired as {pair}"),
        (ids[1], "drawer", "old 1", "pairs", f"paired as {pair}"),
        (ids[0], "drawer", "pairs", "old 0", f"{pair}: the pairing was undone"),
    ]


def test_undo_is_over_once_one_was_handed_out(four: Pairing) -> None:
    part = four.sets.all()[0].members.all()[0].part
    hand_out_part(part, builders.make_person(), act=builders.act(minutes=1))
    undo = lambda: undo_pairing(four, act=builders.act(minutes=3))  # noqa: E731
    assert refused_of(undo) == "handed_out"
    take_back_part(part, act=builders.act(minutes=2))
    assert refused_of(undo) == "handed_out"
    assert len(load_bag(four.batch)) == 0


def test_undo_waits_for_a_reservation(four: Pairing) -> None:
    part = four.sets.all()[0].members.all()[0].part
    reserve_part(part, act=builders.act(minutes=1))
    assert refused_of(lambda: undo_pairing(four, act=builders.act())) == "handed_out"


def test_split_frees_two_and_is_in_their_history(four: Pairing) -> None:
    part_set = four.sets.all()[0]
    split_set(part_set, reason="one is cut", act=builders.act())
    moves = PartMove.objects.filter(move=Move.SPLIT)
    assert [move.note for move in moves] == [f"{part_set.tag}: one is cut"] * 2
    assert len(load_bag(four.batch)) == 2
    again = lambda: split_set(part_set, reason="x", act=builders.act())  # noqa: E731
    assert refused_of(again) == "not_together"
    person = builders.make_person()
    out = lambda: hand_out_set(part_set, person, act=builders.act())  # noqa: E731
    assert refused_of(out) == "not_together"


def test_pair_is_handed_out_and_taken_back_whole(four: Pairing) -> None:
    part_set, person = four.sets.all()[0], builders.make_person()
    hand_out_set(part_set, person, act=builders.act())
    parts = Part.objects.filter(memberships__part_set=part_set)
    assert {part.state for part in parts} == {PartState.WITH_MEMBER}
    assert {part.holder_id for part in parts} == {person.pk}
    assert list(PartSet.objects.free()) == [four.sets.all()[1]]
    split = lambda: split_set(part_set, reason="x", act=builders.act())  # noqa: E731
    assert refused_of(split) == "part_not_free"
    take_back_set(part_set, act=builders.act())
    assert PartSet.objects.free().count() == 2


def test_pair_of_which_one_is_out_is_not_handed_out(four: Pairing) -> None:
    part_set, person = four.sets.all()[0], builders.make_person()
    second = part_set.members.all()[1].part
    hand_out_part(second, person, act=builders.act())
    out = lambda: hand_out_set(part_set, person, act=builders.act())  # noqa: E731
    assert refused_of(out) == "part_not_free"
    first = Part.objects.get(pk=part_set.members.all()[0].part_id)
    assert first.state == PartState.IN_STOCK
    take_back_set(part_set, act=builders.act())
    assert not Part.objects.exclude(state=PartState.IN_STOCK).exists()


def test_loose_tyres_of_all_batches_pair_with_each_other() -> None:
    one, other = bags.make_batch("18.40"), bags.make_batch("18.41")
    loose = load_bag(None)
    assert len(loose) >= 2
    places = [loose.tags.index(b.members.get().part.tag) for b in (one, other)]
    pairing = bags.pair_up(loose, [(places[0], places[1])])
    assert pairing.batch is None
    assert len(load_bag(one)) == len(load_bag(other)) == 0


# --- draws --------------------------------------------------------------------------


def test_draw_is_kept_and_can_be_run_again_by_a_shell() -> None:
    draw = bags.make_draw(drivers=["7", "12", "O'Hara; echo"], seed="6 2 $5 `x`")
    lots = list(draw.lots.select_related("motor"))
    lines = check_lines(draw, lots)
    drivers, motors = (
        subprocess.run(
            ["bash", "-c", line], capture_output=True, text=True, check=True
        ).stdout.splitlines()
        for line in lines
    )
    by_shell = {
        driver.split(" ", 1)[1]: motor.split(" ", 1)[1]
        for driver, motor in zip(drivers, motors, strict=False)
    }
    assert {lot.driver: lot.motor.tag for lot in lots} == by_shell


def test_draw_follows_the_rule_that_its_page_states() -> None:
    draw = bags.make_draw()

    def key(kind: str, tag: str) -> str:
        return hashlib.sha256(f"{draw.seed}/{kind}/{tag}".encode()).hexdigest()

    lots = list(draw.lots.select_related("motor"))
    drivers = sorted((lot.driver for lot in lots), key=lambda tag: key("driver", tag))
    tags = sorted(
        [*(lot.motor.tag for lot in lots), *draw.spare],
        key=lambda tag: key("motor", tag),
    )
    assert {lot.driver: lot.motor.tag for lot in lots} == dict(
        zip(drivers, tags, strict=False)
    )


def test_draw_refuses_what_is_no_draw() -> None:
    made = bags.make_motors(("20150", "2.1"), ("20160", "2.1"))
    motors = [part.tag for part in made]

    def drawn(
        seed: str = "1",
        drivers: tuple[str, ...] = ("7",),
        tags: Sequence[str] = tuple(motors),
    ) -> Callable[[], object]:
        new = NewDraw(
            name="D",
            seed=seed,
            drivers=drivers,
            motor_tags=tags,
        )
        return lambda: draw_lots(new, act=builders.act())

    assert refused_of(drawn(seed="")) == "no_seed"
    assert refused_of(drawn(drivers=("7", "7"))) == "drawn_twice"
    assert refused_of(drawn(drivers=("1", "2", "3"))) == "too_few_motors"
    assert refused_of(drawn(drivers=())) == "no_drivers"
    assert refused_of(drawn(tags=("M0",))) == "motor_not_free"
    assert not Draw.objects.exists()


def test_motors_of_a_draw_go_out_and_come_back_together() -> None:
    person = builders.make_person(name="Tam Oakley")
    draw = bags.make_draw(drivers=["Tam Oakley", "12"])
    hand_out_lots(draw, act=builders.act())
    out = Part.objects.filter(state=PartState.WITH_MEMBER)
    assert out.count() == 2
    assert out.get(holder=person).moves.last().note == "Draw: Tam Oakley"  # type: ignore[union-attr]
    again = lambda: hand_out_lots(draw, act=builders.act())  # noqa: E731
    assert refused_of(again) == "part_not_free"
    take_back_lots(draw, act=builders.act())
    assert not Part.objects.filter(state=PartState.WITH_MEMBER).exists()


def test_driver_who_has_a_namesake_is_not_guessed() -> None:
    for _ in range(2):
        builders.make_person(name="Di Marl")
    draw = bags.make_draw(drivers=["Di Marl", "12"])
    assert {lot.person for lot in draw.lots.all()} == {None}


def test_set_of_motors_is_no_longer_loose() -> None:
    first, second = bags.make_motors(("20150", "2.1"), ("20160", "2.1"))
    sets = [NewSet(part_ids=[first.pk, second.pk], spread=10_000_000)]
    confirm_pairing(NewPairing(sets=sets, kind=PartKind.MOTOR), act=builders.act())
    assert first not in loose_parts(None, PartKind.MOTOR)


def test_lots_are_rows_that_stay() -> None:
    bags.make_draw()
    with pytest.raises(IntegrityError), transaction.atomic():
        DrawLot.objects.update(driver="8")
