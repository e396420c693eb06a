"""Stock: parts coming in, and every move of a part afterwards."""

from dataclasses import asdict, dataclass, field

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError, reason_given
from inventory.compute.roles import Ability
from inventory.compute.stock import (
    KINDS,
    MOVES,
    Move,
    PartFacts,
    PartKind,
    PartState,
    kind_of,
    make_tag,
)
from inventory.models import Part, PartMove, Person, facts_model
from inventory.words.enumerations import word_of

#: As many as one statement asks for.
_TAGS_AT_ONCE = 500


@dataclass(frozen=True, kw_only=True)
class NewPart:
    """A part that comes in."""

    facts: PartFacts
    name: str = ""
    drawer: str = ""
    owner: Person | None = None
    is_shared: bool = False
    tag: str = field(default="")


@transaction.atomic
def receive_part(new: NewPart, *, act: Act) -> Part:
    """
    Take a part into stock.

    Writes a Part with the facts of its kind and its first PartMove; audits
    ``part.received``.  Raises RefusedError when a given tag is taken.
    """
    kind = kind_of(new.facts).kind
    if new.tag and Part.objects.filter(tag=new.tag).exists():
        raise RefusedError(
            code="tag_taken",
            sentence=_("Tag %(tag)s is on another part.") % {"tag": new.tag},
            field="tag",
        )
    part = Part.objects.create(
        tag=new.tag or free_tags(kind, 1)[0],
        kind=kind,
        name=new.name,
        drawer=new.drawer,
        owner=new.owner,
        is_shared=new.is_shared,
        received_at=act.at,
    )
    facts_model(kind)._default_manager.create(part=part, **asdict(new.facts))
    PartMove.objects.create(part=part, move=Move.RECEIVE, at=act.at, by=act.by)
    record_event("part.received", subject=part, act=act)
    return part


def move_part(
    part: Part,
    move: Move,
    *,
    act: Act,
    to_person: Person | None = None,
    note: str = "",
) -> None:
    """
    Move a part; part of a caller's transaction.

    Writes the Part's state and holder, where the move may start from it, and a
    PartMove.  Raises RefusedError when somebody was quicker or the state
    forbids it.
    """
    starts, end = MOVES[move]
    moved = Part.objects.filter(pk=part.pk, state__in=starts).update(
        state=end, holder=to_person, version=F("version") + 1
    )
    if not moved:
        state = Part.objects.values_list("state", flat=True).get(pk=part.pk)
        raise RefusedError(
            code="part_not_free",
            sentence=_("Part %(tag)s is “%(state)s”; it cannot be: %(move)s.")
            % {"tag": part.tag, "state": word_of(state), "move": word_of(move)},
            field="part",
        )
    part.state, part.holder = end, to_person
    PartMove.objects.create(
        part=part, move=move, at=act.at, by=act.by, to_person=to_person, note=note
    )


@transaction.atomic
def reserve_part(part: Part, *, act: Act) -> None:
    """
    Reserve a part in stock for the person who asks.

    Writes the part's move; audits ``part.reserved``.  Raises RefusedError for a part
    that somebody else owns and does not share.
    """
    if part.owner_id not in {None, act.by.pk} and not part.is_shared:
        raise RefusedError(
            code="private",
            sentence=_("Part %(tag)s is somebody's own and not shared.")
            % {"tag": part.tag},
            field="part",
        )
    move_part(part, Move.RESERVE, act=act, to_person=act.by)
    record_event("part.reserved", subject=part, act=act)


@transaction.atomic
def release_part(part: Part, *, act: Act) -> None:
    """
    Give up a reservation: one's own, or as the keeper anybody's.

    Writes the part's move; audits ``part.released``.  Raises RefusedError for
    somebody else's.
    """
    if part.holder_id != act.by.pk and not act.by.may(Ability.KEEP_PARTS):
        raise RefusedError(
            code="not_yours",
            sentence=_(
                "Part %(tag)s is reserved for %(holder)s; they or the keeper release "
                "it."
            )
            % {"tag": part.tag, "holder": part.holder},
        )
    move_part(part, Move.RELEASE, act=act)
    record_event("part.released", subject=part, act=act)


@transaction.atomic
def hand_out_part(part: Part, to_person: Person, *, act: Act, note: str = "") -> None:
    """
    Hand a part out; a reserved one only to whom it is reserved for.

    Writes the part's move; audits ``part.handed_out``.  Raises RefusedError
    when it is reserved for somebody else.
    """
    if part.state == PartState.RESERVED and part.holder_id != to_person.pk:
        raise RefusedError(
            code="reserved_for_another",
            sentence=_("Part %(tag)s is reserved for %(holder)s.")
            % {"tag": part.tag, "holder": part.holder},
            field="to_person",
        )
    move_part(part, Move.HAND_OUT, act=act, to_person=to_person, note=note)
    record_event("part.handed_out", subject=part, act=act, to=to_person.pk)


@transaction.atomic
def take_back_part(part: Part, *, act: Act, note: str = "") -> None:
    """
    Take a part that was handed out back into its drawer.

    Writes the part's move; audits ``part.taken_back``.  Raises RefusedError
    while it sits on a car: it is taken off there.
    """
    if Part.objects.filter(pk=part.pk, state=PartState.ON_CAR).exists():
        last = part.moves.order_by("-id").first()
        where = f" ({last.note})" if last is not None and last.note else ""
        raise RefusedError(
            code="on_a_car",
            sentence=_("Part %(tag)s sits on a car%(where)s; take it off there.")
            % {"tag": part.tag, "where": where},
        )
    move_part(part, Move.TAKE_BACK, act=act, note=note)
    record_event("part.taken_back", subject=part, act=act)


@transaction.atomic
def retire_part(part: Part, *, reason: str, act: Act) -> None:
    """
    Take a part out of use, with a reason; its history stays.

    Writes the part's move; audits ``part.retired``.  Raises RefusedError
    without a reason, or while it is out with somebody.
    """
    if not reason.strip():
        raise RefusedError(
            code="reason_missing",
            sentence=_("Say why the part is retired."),
            field="note",
        )
    move_part(part, Move.RETIRE, act=act, note=reason.strip())
    record_event("part.retired", subject=part, act=act, reason=reason.strip())


@transaction.atomic
def share_part(part: Part, *, is_shared: bool, act: Act) -> None:
    """
    Show an own part to everybody, or to its owner alone again.

    Writes the Part; audits ``part.shared`` or ``part.unshared``.  Raises RefusedError
    for a part that is not one's own.
    """
    if part.owner_id != act.by.pk:
        raise RefusedError(
            code="not_your_part",
            sentence=_("Part %(tag)s is not yours; its owner shares it.")
            % {"tag": part.tag},
        )
    Part.objects.filter(pk=part.pk).update(
        is_shared=is_shared, version=F("version") + 1
    )
    word = "part.shared" if is_shared else "part.unshared"
    record_event(word, subject=part, act=act)


def may_keep(part: Part, person: Person) -> bool:
    """Say whether somebody keeps a part: its owner their own, keepers the club's."""
    if part.owner_id is not None and part.owner_id == person.pk:
        return True
    return person.may(Ability.KEEP_PARTS)


@transaction.atomic
def restore_part(part: Part, *, reason: str, act: Act) -> None:
    """
    Take a retirement back: the part lies in its drawer again.

    Writes the part's move; audits ``part.restored``.  Raises RefusedError without a
    reason, or for a part that is not retired.
    """
    why = reason_given(reason)
    move_part(part, Move.RESTORE, act=act, note=why)
    record_event("part.restored", subject=part, act=act, reason=why)


def free_tags(kind: PartKind, count: int) -> list[str]:
    """Give tags that no part has; somebody quicker may take one before it is kept."""
    last = Part.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    free: list[str] = []
    while len(free) < count:
        few = min(count - len(free), _TAGS_AT_ONCE)
        some = [make_tag(KINDS[kind].prefix, last + n) for n in range(1, few + 1)]
        taken = Part.objects.filter(tag__in=some).values_list("tag", flat=True)
        free += sorted(set(some) - set(taken), key=some.index)
        last += few
    return free
