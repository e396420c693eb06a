"""Pairs: found in a bag, confirmed into drawers, undone, split, handed out."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.db.models import QuerySet
from django.http import QueryDict
from django.shortcuts import get_object_or_404

from inventory.actions.pairing import (
    NewPairing,
    NewSet,
    confirm_pairing,
    hand_out_set,
    split_set,
    take_back_set,
    undo_pairing,
)
from inventory.api.foundation.cursors import Order
from inventory.api.foundation.operations import Call, lists, makes, reads, writes
from inventory.api.foundation.problems import ProblemError
from inventory.api.foundation.rows import person_named
from inventory.api.pairs.gives import BatchLine, PairingShown, PairLine, PairsFound
from inventory.api.pairs.takes import (
    ConfirmSaid,
    PairOutSaid,
    PairsAsked,
    SplitSaid,
)
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope
from inventory.forms.answers import Answer, answer_of, batch_of, form_of, seen_as
from inventory.forms.pairing import ConfirmForm
from inventory.loaders.batches import batches_with_counts, load_bag
from inventory.loaders.pairs import LoadedSet, find_sets, load_sets
from inventory.models import Batch, Pairing, PartSet

_KEEPS: Mapping[str, Any] = {"asks": Ability.KEEP_PARTS, "scope": Scope.PARTS}


@lists(BatchLine, order=Order(columns={"id": "pk", "made_at": "made_at"}, usual="-id"))
def list_batches(call: Call) -> QuerySet[Batch]:
    """List the batches, each with how many of its parts are loose."""
    return batches_with_counts()


@reads(PairsFound, query=PairsAsked)
def find_pairs(call: Call, which: str) -> dict[str, Any]:
    """Pair a batch, or all loose tyres (“loose”), the way that is asked."""
    return _told(_answer(call.said, which))


@makes(
    PairingShown,
    takes=ConfirmSaid,
    example={"seen": "0" * 64, "tolerance": "0.05", "drawer": "P 1"},
    **_KEEPS,
)
def confirm_pairs(call: Call, which: str) -> Pairing:
    """Make stock of the pairs that were looked at: each a bag with a tag."""
    answer, body = _answer(call.said, which), call.said
    if body["seen"] != seen_as(answer.loaded, answer.found):
        raise ProblemError(
            409, "bag_changed", "The bag has changed since its pairs were looked at."
        )
    form = ConfirmForm(
        {name: body[name] for name in ("seen", "drawer", "per_drawer") if body[name]}
    )
    if not form.is_valid():
        raise ProblemError.of_form(form)
    drawers = form.drawers(len(answer.found.members))
    new = NewPairing(
        batch=batch_of(which),
        sets=_sets(answer, drawers),
        settings=dict(_query(body).lists()),
    )
    return _pairing(confirm_pairing(new, act=call.act).pk)


@reads(PairingShown)
def show_pairing(call: Call, pairing_id: int) -> Pairing:
    """Tell of pairs that were confirmed together."""
    return _pairing(pairing_id)


@writes(PairingShown, **_KEEPS)
def undo_a_pairing(call: Call, pairing_id: int) -> Pairing:
    """Undo a confirmation, until one of its pairs is handed out."""
    undo_pairing(_pairing(pairing_id), act=call.act)
    return _pairing(pairing_id)


@lists(
    PairLine,
    order=Order(columns={"tag": "tag"}, usual="tag"),
    load=lambda call, rows: load_sets(rows),
)
def list_pairs(call: Call) -> QuerySet[PartSet]:
    """List the pairs and sets in stock."""
    return find_sets("")


@reads(PairLine)
def show_pair(call: Call, tag: str) -> LoadedSet:
    """Tell of one pair or set."""
    return _loaded(tag)


@writes(PairLine, takes=SplitSaid, example={"reason": "one is worn"}, **_KEEPS)
def split_a_pair(call: Call, tag: str) -> LoadedSet:
    """Split a pair or set; its parts are loose again."""
    part_set = get_object_or_404(PartSet, tag=tag)
    split_set(part_set, reason=call.said["reason"], act=call.act)
    return _loaded(tag)


@writes(PairLine, takes=PairOutSaid, example={"person": 1}, **_KEEPS)
def hand_a_pair_out(call: Call, tag: str) -> LoadedSet:
    """Hand a pair or set out, every part of it or none."""
    part_set = get_object_or_404(PartSet, tag=tag)
    to = person_named(call.said["person"], field="person")
    hand_out_set(part_set, to, note=call.said["note"], act=call.act)
    return _loaded(tag)


@writes(PairLine, **_KEEPS)
def take_a_pair_back(call: Call, tag: str) -> LoadedSet:
    """Take a pair or set back into its drawer."""
    take_back_set(get_object_or_404(PartSet, tag=tag), act=call.act)
    return _loaded(tag)


def _loaded(tag: str) -> LoadedSet:
    (loaded,) = load_sets([get_object_or_404(PartSet, tag=tag)])
    return loaded


def _pairing(pairing_id: int) -> Pairing:
    pairings = Pairing.objects.select_related("by").prefetch_related("sets")
    return get_object_or_404(pairings, pk=pairing_id)


def _query(body: Mapping[str, Any]) -> QueryDict:
    query = QueryDict(mutable=True)
    names: list[str] = list(PairsAsked().get_fields())
    for name in names:
        if body.get(name):
            query[name] = str(body[name])
    return query


def _answer(body: Mapping[str, Any], which: str) -> Answer:
    loaded = load_bag(batch_of(which))
    form = form_of(_query(body), loaded.bag)
    answer = answer_of(form, loaded)
    if answer is None:
        raise ProblemError.of_form(form)
    return answer


def _told(answer: Answer) -> dict[str, Any]:
    paired, loaded = answer.found, answer.loaded
    size = loaded.bag.diameter_mm

    def tyres(places: Any) -> list[dict[str, Any]]:
        return [
            {"tag": loaded.tags[place], "diameter_mm": float(size[place])}
            for place in places.tolist()
        ]

    return {
        "seen": seen_as(loaded, paired),
        "pairs": [
            {
                "tyres": tyres(row),
                "difference_mm": float(difference) / 1000,
                "chance": float(chance),
            }
            for row, difference, chance in zip(
                paired.members, paired.difference_um, paired.probability, strict=True
            )
        ],
        "left_over": tyres(paired.leftover),
        "rejected": tyres(paired.rejected),
        "unmeasured": tyres(paired.unmeasured),
        "more_pairs": paired.more_pairs,
        "dearer_by": paired.dearer_by,
    }


def _sets(answer: Answer, drawers: Sequence[str]) -> list[NewSet]:
    ids = answer.loaded.part_ids
    return [
        NewSet(
            part_ids=[ids[place] for place in row],
            spread=int(spread_um) * 1000,
            drawer=drawer,
        )
        for row, spread_um, drawer in zip(
            answer.found.members.tolist(),
            answer.found.difference_um.tolist(),
            drawers,
            strict=True,
        )
    ]
