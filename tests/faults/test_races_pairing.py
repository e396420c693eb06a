"""Two keepers who confirm pairings that share a tyre: always exactly one wins."""

import functools

import pytest

from inventory.actions.batches import NewBatch, take_batch
from inventory.actions.pairing import (
    NewPairing,
    NewSet,
    confirm_pairing,
    hand_out_set,
    split_set,
    undo_pairing,
)
from inventory.compute.roles import Role
from inventory.compute.stock.words import PartKind, PartState
from inventory.loaders.batches import load_bag
from inventory.loaders.incoming.checked_rows import check_rows
from inventory.models import Batch, Pairing, Part, PartSet, SetMember
from tests import builders
from tests.faults.races import at_once
from tests.inventory import bags

pytestmark = pytest.mark.django_db(transaction=True)

RACES = 200


def test_of_two_confirmations_that_share_a_tyre_one_wins() -> None:
    sizes = [f"18.{number:03d}" for number in range(3 * RACES)]
    bag = load_bag(bags.make_batch(*sizes))
    keepers = [builders.make_person(Role.PARTS_KEEPER) for _ in range(2)]
    for race in range(RACES):
        first, shared, last = bag.part_ids[3 * race : 3 * race + 3]
        rivals = [[first, shared], [shared, last]]
        won, lost = at_once(
            [
                functools.partial(
                    confirm_pairing,
                    NewPairing(sets=[NewSet(part_ids=pair, spread=0)]),
                    act=builders.act(keeper),
                )
                for pair, keeper in zip(rivals, keepers, strict=True)
            ]
        )
        assert len(won) == len(lost) == 1, race
        assert lost[0].code == "parts_not_free"
    assert Pairing.objects.count() == PartSet.objects.count() == RACES
    assert SetMember.objects.values("part").distinct().count() == 2 * RACES


def test_confirmations_that_share_nothing_both_win() -> None:
    bag = load_bag(bags.make_batch(*(f"18.{number:03d}" for number in range(40))))
    for race in range(10):
        ids = bag.part_ids[4 * race : 4 * race + 4]
        won, lost = at_once(
            [
                functools.partial(
                    confirm_pairing,
                    NewPairing(sets=[NewSet(part_ids=pair, spread=0)]),
                    act=builders.act(),
                )
                for pair in (ids[:2], ids[2:])
            ]
        )
        assert (len(won), len(lost)) == (2, 0)
    assert PartSet.objects.values("tag").distinct().count() == 20


def test_handing_out_and_undoing_at_once_never_both_happen() -> None:
    person = builders.make_person()
    for _ in range(10):
        part_set = bags.make_set()
        pairing = part_set.pairing
        won, lost = at_once(
            [
                functools.partial(undo_pairing, pairing, act=builders.act(minutes=1)),
                functools.partial(
                    hand_out_set, part_set, person, act=builders.act(minutes=1)
                ),
            ]
        )
        assert len(won) == len(lost) == 1
        part_set.refresh_from_db()
        states = set(
            Part.objects.filter(memberships__part_set=part_set).values_list(
                "state", flat=True
            )
        )
        was_undone = part_set.ended_at is not None
        assert states == {PartState.IN_STOCK if was_undone else PartState.WITH_MEMBER}


def test_splitting_and_handing_out_at_once_never_both_happen() -> None:
    person = builders.make_person()
    for _ in range(10):
        part_set = bags.make_set()
        won, lost = at_once(
            [
                functools.partial(
                    split_set, part_set, reason="cut", act=builders.act(minutes=1)
                ),
                functools.partial(
                    hand_out_set, part_set, person, act=builders.act(minutes=1)
                ),
            ]
        )
        assert len(won) == len(lost) == 1


def test_same_file_taken_twice_at_once_comes_in_once() -> None:
    gauge = bags.gauge()
    for race in range(10):
        rows = [bags.row(f"18.{race:02d}"), bags.row("18.44", number=2)]
        checked = check_rows(rows, kind=PartKind.TYRE, gauge=gauge)
        new = NewBatch(name=f"Bag {race}", gauge=gauge)
        won, lost = at_once(
            [
                functools.partial(take_batch, new, checked, act=builders.act())
                for _ in range(2)
            ]
        )
        assert len(won) == len(lost) == 1
        assert lost[0].code == "same_file"
    assert Batch.objects.count() == 10


def test_two_files_at_once_both_come_in_with_tags_of_their_own() -> None:
    gauge = bags.gauge()
    for race in range(10):
        checked = [
            check_rows(
                [bags.row(f"18.{race:02d}"), bags.row(size, number=2)],
                kind=PartKind.TYRE,
                gauge=gauge,
            )
            for size in ("18.5", "18.6")
        ]
        won, lost = at_once(
            [
                functools.partial(
                    take_batch,
                    NewBatch(name="Bag", gauge=gauge),
                    rows,
                    act=builders.act(),
                )
                for rows in checked
            ]
        )
        assert (len(won), len(lost)) == (2, 0)
    assert Part.objects.values("tag").distinct().count() == 40
