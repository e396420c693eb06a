"""Stock: parts coming in, and every move of a part afterwards."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.db import transaction
from django.db.models import F

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.compute.stock import (
    MOVES,
    Fixing,
    GearRole,
    Move,
    PartKind,
    PartState,
)
from inventory.compute.tags import make_tag
from inventory.models import Gear, Motor, Part, PartMove, Person, Tyre

_PREFIX: Mapping[PartKind, str] = {
    PartKind.TYRE: "T",
    PartKind.GEAR: "G",
    PartKind.MOTOR: "M",
}
#: As many as one statement asks for.
_TAGS_AT_ONCE = 500


@dataclass(frozen=True, kw_only=True)
class TyreFacts:
    """What a tyre is, besides its sizes."""

    compound: str = ""
    width_code: str = ""
    wheel: str = ""


@dataclass(frozen=True, kw_only=True)
class GearFacts:
    """What a gear is, besides its sizes."""

    role: GearRole
    teeth: int
    pitch_name: str = ""
    family: str = ""
    fixing: Fixing = Fixing.SCREW
    cut_for_teeth: int | None = None


@dataclass(frozen=True, kw_only=True)
class MotorFacts:
    """What a motor is, besides its sizes."""

    family: str = ""


@dataclass(frozen=True, kw_only=True)
class NewPart:
    """A part that comes in."""

    facts: TyreFacts | GearFacts | MotorFacts
    name: str = ""
    drawer: str = ""
    owner: Person | None = None
    tag: str = field(default="")


@transaction.atomic
def receive_part(new: NewPart, *, act: Act) -> Part:
    """
    Take a part into stock.

    Writes a Part with its Tyre, Gear or Motor and its first PartMove; audits
    ``part.received``.  Raises RefusedError when a given tag is taken.
    """
    kind = _kind(new.facts)
    if new.tag and Part.objects.filter(tag=new.tag).exists():
        raise RefusedError(
            code="tag_taken", sentence=f"Tag {new.tag} is on another part.", field="tag"
        )
    part = Part.objects.create(
        tag=new.tag or free_tags(kind, 1)[0],
        kind=kind,
        name=new.name,
        drawer=new.drawer,
        owner=new.owner,
        received_at=act.at,
    )
    _write_facts(part, new.facts)
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
            sentence=f"Part {part.tag} is “{state}”; it cannot be: {move}.",
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

    Writes the part's move; audits ``part.reserved``.
    """
    move_part(part, Move.RESERVE, act=act, to_person=act.by)
    record_event("part.reserved", subject=part, act=act)


@transaction.atomic
def release_part(part: Part, *, act: Act) -> None:
    """
    Give up a reservation: one's own, or as the keeper anybody's.

    Writes the part's move; audits ``part.released``.  Raises RefusedError for
    somebody else's.
    """
    if part.holder_id != act.by.pk and not act.by.has_role(Role.PARTS_KEEPER):
        raise RefusedError(
            code="not_yours",
            sentence=f"Part {part.tag} is reserved for {part.holder}; they or the "
            "keeper release it.",
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
            sentence=f"Part {part.tag} is reserved for {part.holder}.",
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
    last = part.moves.order_by("-id").first()
    if last is not None and last.move == Move.FIT:
        raise RefusedError(
            code="on_a_car",
            sentence=f"Part {part.tag} sits on a car ({last.note}); take it off there.",
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
            code="reason_missing", sentence="Say why the part is retired.", field="note"
        )
    move_part(part, Move.RETIRE, act=act, note=reason.strip())
    record_event("part.retired", subject=part, act=act, reason=reason.strip())


@dataclass(frozen=True, kw_only=True)
class PartCorrection:
    """What the keeper may correct on a part, and the version that was looked at."""

    name: str
    drawer: str
    version: int


@transaction.atomic
def correct_part(part: Part, said: PartCorrection, *, act: Act) -> None:
    """
    Correct a part's name or drawer.

    Writes the Part if nobody else has changed it since it was looked at;
    audits ``part.corrected`` with what stood there before.  Raises RefusedError
    when somebody has.
    """
    before = {"name": part.name, "drawer": part.drawer}
    written = Part.objects.filter(pk=part.pk, version=said.version).update(
        name=said.name, drawer=said.drawer, version=F("version") + 1
    )
    if not written:
        raise RefusedError(
            code="changed_since",
            sentence=f"Somebody has changed part {part.tag} since you opened it; "
            "look at it again.",
        )
    record_event("part.corrected", subject=part, act=act, before=before)


def _kind(facts: TyreFacts | GearFacts | MotorFacts) -> PartKind:
    match facts:
        case TyreFacts():
            return PartKind.TYRE
        case GearFacts():
            return PartKind.GEAR
        case MotorFacts():
            return PartKind.MOTOR


def _write_facts(part: Part, facts: TyreFacts | GearFacts | MotorFacts) -> None:
    match facts:
        case TyreFacts():
            Tyre.objects.create(
                part=part,
                compound=facts.compound,
                width_code=facts.width_code,
                wheel=facts.wheel,
            )
        case GearFacts():
            Gear.objects.create(
                part=part,
                role=facts.role,
                teeth=facts.teeth,
                pitch_name=facts.pitch_name,
                family=facts.family,
                fixing=facts.fixing,
                cut_for_teeth=facts.cut_for_teeth,
            )
        case MotorFacts():
            Motor.objects.create(part=part, family=facts.family)


def free_tags(kind: PartKind, count: int) -> list[str]:
    """Give tags that no part has; somebody quicker may take one before it is kept."""
    last = Part.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    free: list[str] = []
    while len(free) < count:
        few = min(count - len(free), _TAGS_AT_ONCE)
        some = [make_tag(_PREFIX[kind], last + n) for n in range(1, few + 1)]
        taken = Part.objects.filter(tag__in=some).values_list("tag", flat=True)
        free += sorted(set(some) - set(taken), key=some.index)
        last += few
    return free
