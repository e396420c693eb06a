"""Stock: parts coming in, and every move of a part afterwards."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.db import transaction

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.stock import MOVES, Fixing, GearRole, Move, PartKind
from inventory.compute.tags import make_tag
from inventory.models import Gear, Motor, Part, PartMove, Person, Tyre

_PREFIX: Mapping[PartKind, str] = {
    PartKind.TYRE: "T",
    PartKind.GEAR: "G",
    PartKind.MOTOR: "M",
}


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
        tag=new.tag or _free_tag(kind),
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

    Writes the Part's state, where the move may start from it, and a PartMove.
    Raises RefusedError when somebody was quicker or the state forbids it.
    """
    starts, end = MOVES[move]
    moved = Part.objects.filter(pk=part.pk, state__in=starts).update(state=end)
    if not moved:
        state = Part.objects.values_list("state", flat=True).get(pk=part.pk)
        raise RefusedError(
            code="part_not_free",
            sentence=f"Part {part.tag} is “{state}”; it cannot be: {move}.",
            field="part",
        )
    part.state = end
    PartMove.objects.create(
        part=part, move=move, at=act.at, by=act.by, to_person=to_person, note=note
    )


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
            )
        case MotorFacts():
            Motor.objects.create(part=part, family=facts.family)


def _free_tag(kind: PartKind) -> str:
    last = Part.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    return make_tag(_PREFIX[kind], last + 1)
