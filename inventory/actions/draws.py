"""Draws of the hand-out motors."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import move_part
from inventory.compute.errors import ComputeError
from inventory.compute.motors import draw_motors
from inventory.compute.stock import Move, PartKind, PartState
from inventory.models import Draw, DrawLot, Part, Person


@dataclass(frozen=True, kw_only=True)
class NewDraw:
    """Who draws, out of which motors, by what seed."""

    name: str
    seed: str
    drivers: Sequence[str]
    motor_tags: Sequence[str]


@transaction.atomic
def draw_lots(new: NewDraw, *, act: Act) -> Draw:
    """
    Draw a motor for each driver, by a seed that anyone can run again.

    Writes a Draw and a DrawLot a driver, with the person of that name where there
    is one; audits ``draw.drawn``.  Raises RefusedError for an empty seed, a driver
    or motor named twice, too few motors, or one that is not in stock.
    """
    tags = sorted(new.motor_tags)
    motors = {
        part.tag: part
        for part in Part.objects.filter(
            tag__in=tags, kind=PartKind.MOTOR, state=PartState.IN_STOCK
        )
    }
    if missing := [tag for tag in tags if tag not in motors]:
        raise RefusedError(
            code="motor_not_free",
            sentence=_("%(list)s: no motor in stock; look again.")
            % {"list": ", ".join(missing[:6])},
            field="motors",
        )
    try:
        drawn = draw_motors(new.seed, drivers=new.drivers, motors=tags)
    except ComputeError as error:
        field = {"no_seed": "seed", "too_few_motors": "motors"}.get(error.code)
        raise RefusedError.because(error, field=field or "drivers") from error
    if not drawn.lots:
        raise RefusedError(
            code="no_drivers", sentence=_("Name at least one driver."), field="drivers"
        )
    draw = Draw.objects.create(
        name=new.name,
        seed=new.seed,
        drawn_at=act.at,
        by=act.by,
        spare=list(drawn.spare),
    )
    people = _people_named(new.drivers)
    DrawLot.objects.bulk_create(
        DrawLot(
            draw=draw,
            position=position,
            driver=lot.driver,
            person=people.get(lot.driver),
            motor=motors[lot.motor],
        )
        for position, lot in enumerate(drawn.lots)
    )
    record_event("draw.drawn", subject=f"draw {draw.pk}", act=act, lots=len(drawn.lots))
    return draw


@transaction.atomic
def hand_out_lots(draw: Draw, *, act: Act) -> None:
    """
    Hand out every motor of a draw, or none.

    Writes the motors' moves; audits ``draw.handed_out``.  Raises RefusedError when
    one is not free.
    """
    for lot in draw.lots.select_related("motor", "person"):
        move_part(
            lot.motor,
            Move.HAND_OUT,
            act=act,
            to_person=lot.person,
            note=f"{draw.name}: {lot.driver}"[:200],
        )
    record_event("draw.handed_out", subject=f"draw {draw.pk}", act=act)


@transaction.atomic
def take_back_lots(draw: Draw, *, act: Act) -> None:
    """
    Take the motors of a draw back, those that are out.

    Writes the motors' moves; audits ``draw.taken_back``.
    """
    out = Part.objects.filter(
        pk__in=draw.lots.values("motor"), state=PartState.WITH_MEMBER
    ).order_by("pk")
    for motor in out:
        move_part(motor, Move.TAKE_BACK, act=act, note=draw.name)
    record_event("draw.taken_back", subject=f"draw {draw.pk}", act=act)


def _people_named(names: Sequence[str]) -> dict[str, Person]:
    """Give whom names mean; none where two people have one name."""
    people: dict[str, list[Person]] = defaultdict(list)
    for person in Person.objects.active().filter(name__in=names):
        people[person.name].append(person)
    return {name: of_name[0] for name, of_name in people.items() if len(of_name) == 1}
