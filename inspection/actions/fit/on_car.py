"""What is on a car, changed from its page: by its owner, a keeper, a scrutineer."""

import datetime as dt
from dataclasses import dataclass, replace

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.fit.fitted import (
    Fitting,
    fit_part,
    place_of,
    place_words,
    refuse_in_wrong_place,
    refuse_unless_it_drives,
    remove_part,
)
from inspection.compute.night import TYRES_OF_AXLE, Axle, PartPosition
from inspection.models import Car, FittedPart, Sheet
from inventory.actions.audit import Act, record_event
from inventory.actions.readings import TypedSizes, receive_measured
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import NewPart, move_part
from inventory.compute.roles import Ability
from inventory.compute.stock import GearFacts, Move, PartKind, PartState
from inventory.models import Part, PartSet, Person
from inventory.words.enumerations import word_of


def may_change_parts(car: Car, person: Person) -> bool:
    """Say whether somebody changes the parts of a car: its owner, keepers, ..."""
    return car.owner_id == person.pk or person.may(Ability.FIT_PARTS)


@transaction.atomic
def put_on(
    car: Car,
    part: Part,
    position: PartPosition,
    *,
    act: Act,
    since: dt.datetime | None = None,
    is_meant: bool = False,
) -> FittedPart:
    """
    Put a part that is to be had on a car, from now or from a moment that is said.

    What sat there goes back into its drawer where a keeper or scrutineer changes
    it, and stays with the owner where they do.  Writes what ``fit_part`` writes.
    Raises RefusedError for a car that is not theirs or on the block, a part that is
    not to be had for it, a moment that cannot be, or a gear that cannot drive it,
    unless that ``is_meant``.
    """
    begin_change(car, act)
    _refuse_since(car, [position], since, act)
    _refuse_part(part, car, act)
    refuse_in_wrong_place(part, position)
    if part.kind == PartKind.GEAR:
        refuse_unless_it_drives(car, part.gear.role, position, is_meant=is_meant)
    return fit_part(car, part, position, act=act, how=_how(act, since))


@dataclass(frozen=True, kw_only=True)
class OwnPart:
    """A part that is not the club's, with its sizes as they were typed."""

    new: NewPart
    sizes: TypedSizes


@transaction.atomic
def put_own_on(
    car: Car,
    own: OwnPart,
    position: PartPosition,
    *,
    act: Act,
    since: dt.datetime | None = None,
    is_meant: bool = False,
) -> FittedPart:
    """
    Put a part on a car that is its owner's and not the club's, with its sizes.

    Writes what ``receive_measured`` and ``fit_part`` write.  Raises RefusedError as
    `put_on` does, and for a size that is none; then nothing is written.
    """
    begin_change(car, act)
    _refuse_since(car, [position], since, act)
    if isinstance(own.new.facts, GearFacts):
        role = own.new.facts.role
        refuse_unless_it_drives(car, role, position, is_meant=is_meant)
    (part,) = receive_measured(
        replace(own.new, owner=car.owner), own.sizes, count=1, act=act
    )
    return fit_part(car, part, position, act=act, how=_how(act, since))


@transaction.atomic
def put_pair_on(
    car: Car,
    part_set: PartSet,
    axle: Axle,
    *,
    act: Act,
    since: dt.datetime | None = None,
) -> list[FittedPart]:
    """
    Put a pair of tyres on an axle, the smaller one left.

    Writes what ``fit_part`` writes, twice.  Raises RefusedError as `put_on` does,
    and for a set that is no pair of tyres.
    """
    begin_change(car, act)
    places = TYRES_OF_AXLE[axle]
    _refuse_since(car, places, since, act)
    parts = [
        member.part
        for member in part_set.members.select_related("part__holder").order_by(
            "position"
        )
    ]
    if part_set.kind != PartKind.TYRE or len(parts) != 2 or part_set.ended_at:
        raise RefusedError(
            code="no_pair",
            sentence=_(
                "%(tag)s is no pair of tyres that is together; one was expected."
            )
            % {"tag": part_set.tag},
            field="pair",
        )
    for part in parts:
        _refuse_part(part, car, act, field="pair")
    return [
        fit_part(car, part, place, act=act, how=_how(act, since))
        for place, part in zip(places, parts, strict=True)
    ]


@transaction.atomic
def take_off(
    car: Car, position: PartPosition, *, act: Act, to_drawer: bool = False
) -> Part:
    """
    Take what sits in a place off a car.

    It stays with the car's owner, or goes back into its drawer, which a keeper or a
    scrutineer may say.  Writes what ``remove_part`` writes.  Raises RefusedError for
    a car that is not theirs or on the block, and for a place that is empty.
    """
    begin_change(car, act)
    part = fitted_at(car, position)
    fitted = _fitted(car, [position])[position]
    stays_out = _stays_out(act) or not to_drawer
    remove_part(fitted, act=act, how=Fitting(stays_out=stays_out))
    return part


@transaction.atomic
def swap_sides(car: Car, axle: Axle, *, act: Act) -> None:
    """
    Swap the left and the right tyre of an axle.

    Writes a move a part, the end of both FittedParts and two new ones, and the
    Car's date; audits ``car.swapped``.  Raises RefusedError for a car that is not
    theirs or on the block, and unless both tyres are there.
    """
    begin_change(car, act)
    places = TYRES_OF_AXLE[axle]
    fitted = _fitted(car, places)
    if len(fitted) != 2:
        raise RefusedError(
            code="not_two",
            sentence=_(
                "Car %(car)s has no two %(axle)s tyres of the stock on it; left and "
                "right were expected."
            )
            % {"car": car.number, "axle": word_of(axle)},
        )
    FittedPart.objects.filter(pk__in=[one.pk for one in fitted.values()]).update(
        removed_at=act.at
    )
    for place, other in zip(places, reversed(places), strict=True):
        part = fitted[other].part
        move_part(part, Move.SWAP, act=act, note=place_of(car, place))
        FittedPart.objects.create(
            car=car, position=place, part=part, fitted_at=act.at, fitted_by=act.by
        )
    Car.objects.filter(pk=car.pk).update(changed_at=act.at)
    record_event("car.swapped", subject=car, act=act, axle=axle)


def begin_change(car: Car, act: Act) -> None:
    """
    Lock a car whose parts are to be changed; part of an action.

    Raises RefusedError for a car that is not theirs, or is on the block.
    """
    # Two people may change one car at once: the car's row is the queue.
    Car.objects.select_for_update().get(pk=car.pk)
    if not may_change_parts(car, act.by):
        raise RefusedError(
            code="not_your_car",
            sentence=_(
                "Car %(car)s is %(owner)s's; they, a keeper or a scrutineer change "
                "what is on it."
            )
            % {"car": car.number, "owner": car.owner},
        )
    sheet = (
        Sheet.objects.filter(
            entry__car=car, entry__night__closed_at=None, seal=None, void=None
        )
        .order_by("-id")
        .first()
    )
    if sheet is not None:
        raise RefusedError(
            code="on_the_block",
            sentence=_(
                "Car %(car)s is on the block (sheet %(sheet)s): its parts are changed "
                "before or after."
            )
            % {"car": car.number, "sheet": sheet.number},
        )


def fitted_at(car: Car, position: PartPosition) -> Part:
    """Give what sits in a place, or refuse; part of an action."""
    fitted = _fitted(car, [position]).get(position)
    if fitted is None:
        raise RefusedError(
            code="nothing_there",
            sentence=_("Nothing of the stock sits on %(place_of)s.")
            % {"place_of": place_words(car, position)},
        )
    return fitted.part


def _how(act: Act, since: dt.datetime | None) -> Fitting:
    return Fitting(since=since, stays_out=_stays_out(act))


def _stays_out(act: Act) -> bool:
    """Whether what comes off stays with the owner: a member has no drawer key."""
    return not act.by.may(Ability.FIT_PARTS)


def _fitted(
    car: Car, places: list[PartPosition] | tuple[PartPosition, ...]
) -> dict[PartPosition, FittedPart]:
    rows = FittedPart.objects.select_related("part", "car__owner").filter(
        car=car, position__in=places, removed_at=None
    )
    return {row.position: row for row in rows}


def _refuse_since(
    car: Car,
    places: list[PartPosition] | tuple[PartPosition, ...],
    since: dt.datetime | None,
    act: Act,
) -> None:
    if since is None:
        return
    if since > act.at:
        raise RefusedError(
            code="since_to_come",
            sentence=_(
                "“%(since)s” is still to come; today or a day before was expected."
            )
            % {"since": f"{since:%Y-%m-%d}"},
            field="since",
        )
    # What a sheet says that sat on the car then did sit on it.
    last = Sheet.objects.filter(entry__car=car).order_by("-started_at").first()
    if last is not None and since < last.started_at:
        raise RefusedError(
            code="since_before_sheet",
            sentence=_(
                "“%(since)s” is before sheet %(last)s of %(started_at)s, which says "
                "what sat on the car then."
            )
            % {
                "since": f"{since:%Y-%m-%d}",
                "last": last.number,
                "started_at": f"{last.started_at:%Y-%m-%d}",
            },
            field="since",
        )
    for place, before in _fitted(car, places).items():
        if since < before.fitted_at:
            raise RefusedError(
                code="since_before_last",
                sentence=_(
                    "“%(since)s” is before %(tag)s came on (%(place)s, %(fitted_at)s)."
                )
                % {
                    "since": f"{since:%Y-%m-%d}",
                    "tag": before.part.tag,
                    "place": word_of(place),
                    "fitted_at": f"{before.fitted_at:%Y-%m-%d}",
                },
                field="since",
            )


def _refuse_part(part: Part, car: Car, act: Act, *, field: str = "part") -> None:
    """Refuse a part that is not to be had for a car, and say where it is."""
    theirs = {car.owner_id, act.by.pk}
    said: dict[str, object] = {"tag": part.tag}
    if part.state == PartState.ON_CAR:
        sits = FittedPart.objects.select_related("car").get(part=part, removed_at=None)
        said["place"] = place_words(sits.car, sits.position)
        sentence = _("Part %(tag)s sits on %(place)s; take it off there first.")
    elif part.state == PartState.RETIRED:
        sentence = _("Part %(tag)s is retired.")
    elif part.holder_id is not None and part.holder_id not in theirs:
        said["holder"] = part.holder
        sentence = (
            _("Part %(tag)s is reserved for %(holder)s.")
            if part.state == PartState.RESERVED
            else _("Part %(tag)s is with %(holder)s.")
        )
    elif (
        part.owner_id not in {None, car.owner_id}
        and not part.is_shared
        # Who has it in their hands was lent it.
        and part.holder_id not in theirs
    ):
        said["owner"] = part.owner
        sentence = _("Part %(tag)s is %(owner)s's own.")
    else:
        return
    raise RefusedError(code="not_to_be_had", sentence=sentence % said, field=field)
