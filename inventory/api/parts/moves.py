"""Moves of parts: reserved, released, handed out, taken back, retired, shared."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied

from inventory.actions.stock import (
    hand_out_part,
    may_keep,
    release_part,
    reserve_part,
    restore_part,
    retire_part,
    share_part,
    take_back_part,
)
from inventory.api.foundation.operations import Call, Operation, writes
from inventory.api.foundation.rows import person_named
from inventory.api.parts.gives import PartShown
from inventory.api.parts.parts import part_of, told
from inventory.api.parts.takes import HandedOutSaid, PartNoteSaid, SharedSaid, WhySaid
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope
from inventory.models import Part


def _move(
    name: str,
    words: str,
    move: Callable[[Call, Part], None],
    *,
    asks: Ability = Ability.KEEP_PARTS,
    **more: Any,
) -> Operation:
    def do(call: Call, tag: str) -> dict[str, Any]:
        move(call, part_of(call, tag))
        return told(call, tag)

    do.__name__, do.__doc__ = name, words
    return writes(PartShown, asks=asks, scope=Scope.PARTS, **more)(do)


def _retire(call: Call, part: Part) -> None:
    if not may_keep(part, call.person):
        raise PermissionDenied
    retire_part(part, reason=call.said["reason"], act=call.act)


def _hand_out(call: Call, part: Part) -> None:
    to = person_named(call.said["person"], field="person")
    hand_out_part(part, to, note=call.said["note"], act=call.act)


reserve = _move(
    "reserve_a_part",
    "Reserve a part in stock for oneself.",
    lambda call, part: reserve_part(part, act=call.act),
    asks=Ability.RESERVE_PARTS,
)
release = _move(
    "release_a_part",
    "Give up a reservation.",
    lambda call, part: release_part(part, act=call.act),
    asks=Ability.RESERVE_PARTS,
)
hand_out = _move(
    "hand_a_part_out",
    "Hand a part out to somebody.",
    _hand_out,
    takes=HandedOutSaid,
    example={"person": 1},
)
take_back = _move(
    "take_a_part_back",
    "Take a part that was handed out back into its drawer.",
    lambda call, part: take_back_part(part, note=call.said["note"], act=call.act),
    takes=PartNoteSaid,
    example={"note": "one tooth is worn"},
)
retire = _move(
    "retire_a_part",
    "Take a part out of use, with a reason: one's own, or as the keeper any.",
    _retire,
    asks=Ability.LOOK,
    takes=WhySaid,
    example={"reason": "The rim is cracked."},
)
restore = _move(
    "restore_a_part",
    "Take a retirement back, with a reason.",
    lambda call, part: restore_part(part, reason=call.said["reason"], act=call.act),
    takes=WhySaid,
    example={"reason": "It was another one that broke."},
)
share = _move(
    "share_a_part",
    "Show an own part to everybody, or to its owner alone.",
    lambda call, part: share_part(part, is_shared=call.said["shared"], act=call.act),
    asks=Ability.LOOK,
    takes=SharedSaid,
    example={"shared": True},
)
