"""Parts in their places on cars: one put on, one taken off, whoever asks."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.compute.fit import DRIVEN_BY
from inspection.compute.night import (
    KIND_OF_POSITION,
    ROLES_OF_POSITION,
    PartPosition,
)
from inspection.models import Car, FittedPart
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import move_part
from inventory.compute.stock import GearRole, Move, PartKind
from inventory.models import Part
from inventory.words.enumerations import word_of

#: The reason that a page asks about, and that whoever means it may pass over.
CANNOT_DRIVE: Final = "cannot_drive"


@dataclass(frozen=True, kw_only=True)
class Fitting:
    """
    How a part goes on.

    From ``since``, else now; what sat there ``stays_out`` with the car's owner, else
    it goes back into stock.
    """

    since: dt.datetime | None = None
    stays_out: bool = False
    note: str = ""


@transaction.atomic
def fit_part(
    car: Car,
    part: Part,
    position: PartPosition,
    *,
    act: Act,
    how: Fitting = Fitting(),
) -> FittedPart:
    """
    Put a part of the inventory in its place on a car.

    Writes the part's move with the note, the end of what sat there before and a
    FittedPart; audits ``car.fitted``.  Raises RefusedError when the part is not to be
    had or is none for that place.
    """
    refuse_in_wrong_place(part, position)
    before = (
        FittedPart.objects.select_related("part", "car__owner")
        .filter(car=car, position=position, removed_at=None)
        .first()
    )
    if before is not None:
        remove_part(before, act=act, how=how)
    place = place_of(car, position)
    move_part(
        part, Move.FIT, act=act, note=f"{place}; {how.note}" if how.note else place
    )
    fitted = FittedPart.objects.create(
        car=car,
        position=position,
        part=part,
        fitted_at=how.since or act.at,
        fitted_by=act.by,
    )
    Car.objects.filter(pk=car.pk).update(changed_at=act.at)
    record_event("car.fitted", subject=car, act=act, part=part.tag, position=position)
    return fitted


@transaction.atomic
def remove_part(
    fitted: FittedPart,
    *,
    act: Act,
    how: Fitting = Fitting(),
) -> None:
    """
    Take a part off a car: back into stock, or it stays with the car's owner.

    A part of the car's owner goes back to their parts.  Writes the
    FittedPart's end, the part's moves and the Car's date; audits ``car.unfitted``.
    """
    part = fitted.part
    ended = FittedPart.objects.filter(pk=fitted.pk, removed_at=None).update(
        removed_at=how.since or act.at
    )
    if not ended:
        raise RefusedError(
            code="removed_already",
            sentence=_("%(part)s is off the car already.") % {"part": part},
        )
    place = place_of(fitted.car, fitted.position)
    move_part(part, Move.TAKE_OFF, act=act, to_person=fitted.car.owner, note=place)
    if part.owner_id == fitted.car.owner_id or not how.stays_out:
        move_part(part, Move.TAKE_BACK, act=act)
    Car.objects.filter(pk=fitted.car_id).update(changed_at=act.at)
    record_event("car.unfitted", subject=fitted.car, act=act, part=part.tag)


def refuse_unless_it_drives(
    car: Car, role: GearRole, position: PartPosition, *, is_meant: bool
) -> None:
    """
    Ask about a gear that cannot drive a car, unless it is meant so; part of an action.

    Raises RefusedError with the code ``cannot_drive``.
    """
    needed = DRIVEN_BY[car.layout]
    if is_meant or position != PartPosition.GEAR or role == needed:
        return
    raise RefusedError(
        code=CANNOT_DRIVE,
        sentence=_(
            "This is a %(kind)s, and cannot drive car %(number)s: it is %(layout)s, "
            "which takes a %(needed)s."
        )
        % {
            "kind": word_of(role),
            "number": car.number,
            "layout": word_of(car.layout),
            "needed": word_of(needed),
        },
    )


def place_of(car: Car, position: PartPosition) -> str:
    """Say where on which car a part sits, as its moves keep it."""
    return f"car {car.number}, {position}"


def place_words(car: Car, position: PartPosition) -> str:
    """Say the same to whoever reads it now."""
    filled_in = {"number": car.number, "position": word_of(position)}
    return _("car %(number)s, %(position)s") % filled_in


def refuse_in_wrong_place(part: Part, position: PartPosition) -> None:
    """Refuse a part that is none for a place; part of an action."""
    kind, roles = KIND_OF_POSITION[position], ROLES_OF_POSITION.get(position)
    is_kind = part.kind == kind
    if is_kind and (roles is None or part.gear.role in roles):
        return
    what = part.gear.role if part.kind == PartKind.GEAR else part.kind
    words = [word_of(one) for one in sorted(roles, reverse=True)] if roles else []
    wanted = words[0] if words else word_of(kind)
    for other in words[1:]:
        wanted = _("%(one)s or a %(other)s") % {"one": wanted, "other": other}
    raise RefusedError(
        code="wrong_place",
        sentence=_(
            "Part %(tag)s is a %(what)s; a %(wanted)s goes there (%(position)s)."
        )
        % {
            "tag": part.tag,
            "what": word_of(what),
            "wanted": wanted,
            "position": word_of(position),
        },
        field="part",
    )
