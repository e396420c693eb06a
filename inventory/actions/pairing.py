"""Pairs and sets: confirmed into bags with labels, undone, split, handed out."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from django.db import transaction
from django.db.models import F, QuerySet
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.incoming import with_numbers
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import hand_out_part, move_part, take_back_part
from inventory.compute.batches import SetEnd
from inventory.compute.stock import Move, PartKind, PartState, make_tag
from inventory.models import (
    Batch,
    FactChange,
    Pairing,
    Part,
    PartMove,
    PartSet,
    Person,
    SetMember,
)

#: P for two that are a pair, S for a set of more.
_PAIR, _SET = "P", "S"
_NAMED_AT_MOST: Final = 6
_OUT: Final = (Move.HAND_OUT, Move.FIT)


@dataclass(frozen=True, kw_only=True)
class NewSet:
    """Parts to be kept together, the smallest first, and the drawer they go into."""

    part_ids: Sequence[int]
    spread: int
    drawer: str = ""


@dataclass(frozen=True, kw_only=True)
class NewPairing:
    """Sets that are confirmed together, and the settings they were found by."""

    sets: Sequence[NewSet]
    batch: Batch | None = None
    kind: PartKind = PartKind.TYRE
    settings: Mapping[str, Any] = field(default_factory=dict)


def confirm_pairing(new: NewPairing, *, act: Act) -> Pairing:
    """
    Make stock of pairs: each a bag with a tag and a drawer.

    Writes a Pairing, a PartSet a pair and a SetMember a part, the Parts' drawers and
    a FactChange for each that lay elsewhere; audits ``pairing.confirmed``.  Raises
    RefusedError when there is no pair, or a part of one is no longer free; then
    nothing is written.
    """
    ids = [part_id for one in new.sets for part_id in one.part_ids]
    if not ids:
        raise RefusedError(
            code="no_pairs",
            sentence=_("There is no pair to confirm at this tolerance."),
        )
    twice = [part_id for part_id, times in Counter(ids).items() if times > 1]
    if twice:
        raise RefusedError(
            code="part_twice", sentence=_("One part stands in two of the pairs.")
        )
    return with_numbers(lambda: _confirm(new, ids, act))


@transaction.atomic
def undo_pairing(pairing: Pairing, *, act: Act) -> None:
    """
    Undo a confirmation; its parts are loose again, each where it lay before.

    Writes the Pairing, its PartSets and SetMembers as ended, and the drawer of each
    part that still lies where it was put with the pair, with a FactChange; audits
    ``pairing.undone``.
    Raises RefusedError once a part of it was handed out or is reserved, or when it
    was undone before.
    """
    # The sets before their parts, as whoever hands one out locks them.
    sets = PartSet.objects.select_for_update().filter(pairing=pairing).order_by("pk")
    members = SetMember.objects.filter(part_set__in=list(sets))
    ids = list(members.values_list("part", flat=True))
    parts = _locked(ids)
    away = [part.tag for part in parts if part.state != PartState.IN_STOCK]
    out = PartMove.objects.filter(
        part__in=ids, move__in=_OUT, at__gte=pairing.made_at
    ).values_list("part__tag", flat=True)
    if gone := sorted({*away, *out}):
        raise RefusedError(
            code="handed_out",
            sentence=_(
                "%(named)s went out of the drawer since; split the other pairs one by "
                "one."
            )
            % {"named": _named(gone)},
        )
    undone = Pairing.objects.filter(pk=pairing.pk, undone_at=None).update(
        undone_at=act.at
    )
    if not undone:
        raise RefusedError(code="undone", sentence=_("It was undone before."))
    _put_back(members, parts, act)
    _end(PartSet.objects.filter(pairing=pairing), SetEnd.UNDONE, act)
    record_event("pairing.undone", subject=f"pairing {pairing.pk}", act=act)


@transaction.atomic
def split_set(part_set: PartSet, *, reason: str, act: Act) -> None:
    """
    Split a pair or set; its parts are loose again.

    Writes the PartSet and its SetMembers as ended and a PartMove a part; audits
    ``pair.split``.  Raises RefusedError while a part of it is out, or when it was
    split before.
    """
    _refuse_ended(part_set)
    for part in _parts_of(part_set):
        move_part(part, Move.SPLIT, act=act, note=f"{part_set.tag}: {reason}"[:200])
    _end(PartSet.objects.filter(pk=part_set.pk), SetEnd.SPLIT, act)
    record_event("pair.split", subject=part_set, act=act, reason=reason)


@transaction.atomic
def hand_out_set(
    part_set: PartSet, to_person: Person, *, act: Act, note: str = ""
) -> None:
    """
    Hand a pair or set out, every part of it or none.

    Writes the parts' moves; audits ``pair.handed_out``.  Raises RefusedError when
    one is not free, or the set is not together any more.
    """
    _refuse_ended(part_set)
    for part in _parts_of(part_set):
        hand_out_part(part, to_person, act=act, note=note or part_set.tag)
    record_event("pair.handed_out", subject=part_set, act=act, to=to_person.pk)


@transaction.atomic
def take_back_set(part_set: PartSet, *, act: Act) -> None:
    """
    Take a pair or set back into its drawer.

    Writes the parts' moves; audits ``pair.taken_back``.  Raises RefusedError while
    one of them sits on a car.
    """
    for part in _parts_of(part_set):
        if part.state != PartState.IN_STOCK:
            take_back_part(part, act=act, note=part_set.tag)
    record_event("pair.taken_back", subject=part_set, act=act)


def _confirm(new: NewPairing, ids: Sequence[int], act: Act) -> Pairing:
    with transaction.atomic():
        before = {part.pk: part.drawer for part in _free_parts(ids)}
        pairing = Pairing.objects.create(
            batch=new.batch, made_at=act.at, by=act.by, settings=dict(new.settings)
        )
        sets = PartSet.objects.bulk_create(_sets(new, pairing))
        SetMember.objects.bulk_create(
            SetMember(
                part_set=part_set,
                part_id=part_id,
                position=position,
                drawer_before=before[part_id],
            )
            for part_set, one in zip(sets, new.sets, strict=True)
            for position, part_id in enumerate(one.part_ids)
        )
        _put_away(sets, new.sets, before, act)
        record_event(
            "pairing.confirmed",
            subject=f"pairing {pairing.pk}",
            act=act,
            sets=len(sets),
            parts=len(ids),
        )
    return pairing


def _free_parts(ids: Sequence[int]) -> list[Part]:
    # Locked in the order of their keys: two who confirm wait for each other here,
    # and the second finds what the first has written.
    parts = _locked(ids)
    taken = set(
        SetMember.objects.filter(part__in=ids, ended_at=None).values_list(
            "part", flat=True
        )
    )
    not_free = sorted(
        part.tag
        for part in parts
        if part.state != PartState.IN_STOCK or part.pk in taken
    )
    if not_free or len(parts) != len(ids):
        raise RefusedError(
            code="parts_not_free",
            sentence=_(
                "%(named)s went into a pair or out of stock since this page was made; "
                "look at it again."
            )
            % {"named": _named(not_free)},
        )
    return parts


def _locked(ids: Sequence[int]) -> list[Part]:
    return list(Part.objects.select_for_update().filter(pk__in=ids).order_by("pk"))


def _sets(new: NewPairing, pairing: Pairing) -> list[PartSet]:
    last = PartSet.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    return [
        PartSet(
            tag=make_tag(_PAIR if len(one.part_ids) == 2 else _SET, number),
            kind=new.kind,
            pairing=pairing,
            spread=one.spread,
            drawer=one.drawer,
        )
        for number, one in enumerate(new.sets, last + 1)
    ]


def _put_back(members: QuerySet[SetMember], parts: Sequence[Part], act: Act) -> None:
    """Lay parts where they lay before, unless they were moved on since."""
    lies_in = {part.pk: part.drawer for part in parts}
    _lay(
        [
            _Laid(part_id, put, before, f"{tag}: the pairing was undone")
            for part_id, put, before, tag in members.values_list(
                "part", "part_set__drawer", "drawer_before", "part_set__tag"
            )
            if put and lies_in[part_id] == put
        ],
        act,
    )


def _put_away(
    sets: Sequence[PartSet],
    new: Sequence[NewSet],
    before: Mapping[int, str],
    act: Act,
) -> None:
    _lay(
        [
            _Laid(part_id, before[part_id], one.drawer, f"paired as {part_set.tag}")
            for part_set, one in zip(sets, new, strict=True)
            for part_id in one.part_ids
            if one.drawer
        ],
        act,
    )


@dataclass(frozen=True)
class _Laid:
    """A part that goes from one drawer into another, and why."""

    part_id: int
    before: str
    after: str
    why: str


def _lay(laid: Sequence[_Laid], act: Act) -> None:
    """Lay parts elsewhere, and note it of each that lay in another drawer."""
    by_drawer: dict[str, list[int]] = {}
    for one in laid:
        by_drawer.setdefault(one.after, []).append(one.part_id)
    for drawer, ids in by_drawer.items():
        Part.objects.filter(pk__in=ids).update(drawer=drawer, version=F("version") + 1)
    FactChange.objects.bulk_create(
        FactChange(
            part_id=one.part_id,
            fact="drawer",
            before=one.before,
            after=one.after,
            reason=one.why,
            at=act.at,
            by=act.by,
        )
        for one in laid
        if one.before != one.after
    )


def _end(sets: Any, why: SetEnd, act: Act) -> int:
    together = sets.filter(ended_at=None)
    SetMember.objects.filter(part_set__in=together.values("pk"), ended_at=None).update(
        ended_at=act.at
    )
    ended: int = together.update(ended_at=act.at, ended_by=why)
    return ended


def _refuse_ended(part_set: PartSet) -> None:
    # Locked: who splits it and who hands it out wait for each other.
    together = PartSet.objects.select_for_update().filter(pk=part_set.pk, ended_at=None)
    if not together:
        raise RefusedError(
            code="not_together",
            sentence=_("%(tag)s is not together any more.") % {"tag": part_set.tag},
        )


def _parts_of(part_set: PartSet) -> list[Part]:
    return list(
        Part.objects.filter(memberships__part_set=part_set).order_by(
            "memberships__position"
        )
    )


def _named(tags: Sequence[str]) -> str:
    shown = ", ".join(tags[:_NAMED_AT_MOST])
    more = len(tags) - _NAMED_AT_MOST
    return (
        _("%(shown)s and %(more)s more") % {"shown": shown, "more": more}
        if more > 0
        else shown or _("A part")
    )
