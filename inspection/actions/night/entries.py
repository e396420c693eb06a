"""Entering cars: many at once, one's own, a guest at the desk; calling them."""

import secrets
from dataclasses import dataclass
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.cars import CarFacts, register_car
from inspection.actions.race_nights import enter_car, lock_entry, move_entry
from inspection.compute.night import EntryState, next_free_number
from inspection.compute.quantities import FrontCarrier, Layout
from inspection.models import Car, Entry, EntryCall, EntryMove, RaceClass, RaceNight
from inventory.actions.audit import Act, record_event
from inventory.actions.people.joining import add_person
from inventory.actions.refusals import RefusedError
from inventory.models import Person
from inventory.words.enumerations import word_of


@dataclass(frozen=True, kw_only=True)
class Filled:
    """What came of entering many cars: those entered, those left out and why."""

    entered: int
    left_out: tuple[str, ...]


@transaction.atomic
def copy_entries(night: RaceNight, source: RaceNight, *, act: Act) -> Filled:
    """
    Enter the cars of another night again, with their numbers and drivers.

    Leaves out what does not race, is retired or withdrawn, is entered already, and
    whose number is taken.  Writes an Entry and an EntryMove a car; audits
    ``entries.copied``.  Raises RefusedError when the night is closed.
    """
    rows = source.entries.exclude(state=EntryState.WITHDRAWN)
    rows = rows.select_related("car", "driver", "race_class").order_by("pk")
    wanted = [_wanted(row.car, row.race_class, row.driver, row.number) for row in rows]
    return _fill(night, wanted, source=str(source), act=act)


@transaction.atomic
def enter_class(night: RaceNight, race_class: RaceClass, *, act: Act) -> Filled:
    """
    Enter all cars of a class, each by whoever has it.

    Leaves out those that are entered already and whose number is taken.  Writes an
    Entry and an EntryMove a car; audits ``entries.copied``.  Raises RefusedError when
    the night is closed.
    """
    cars = Car.objects.racing().filter(race_class=race_class)
    cars = cars.select_related("owner", "lent_to").order_by("pk")
    wanted = [_wanted(car, race_class, car.usual_driver, car.number) for car in cars]
    return _fill(night, wanted, source=str(race_class), act=act)


def _wanted(car: Car, race_class: RaceClass, driver: Person, number: str) -> Entry:
    return Entry(car=car, race_class=race_class, driver=driver, number=number)


def _fill(night: RaceNight, wanted: list[Entry], *, source: str, act: Act) -> Filled:
    night = RaceNight.objects.select_for_update().get(pk=night.pk)
    if night.closed_at is not None:
        raise RefusedError(
            code="night_closed", sentence=_("%(night)s is closed.") % {"night": night}
        )
    racing = set(night.classes.values_list("race_class", flat=True))
    there = list(night.entries.values_list("race_class", "car", "number"))
    cars = {(race_class, car) for race_class, car, _number in there}
    numbers = {(race_class, number) for race_class, _car, number in there}
    entered, left_out = [], []
    for entry in wanted:
        key = (entry.race_class_id, entry.car_id)
        number = (entry.race_class_id, entry.number)
        if entry.race_class_id not in racing or key in cars:
            continue
        if entry.car.retired_at is not None:
            left_out.append(_("%(called)s is retired") % {"called": entry.called})
        elif number in numbers:
            left_out.append(
                _("%(called)s: number %(entry)s is taken in %(race_class)s")
                % {
                    "called": entry.called,
                    "entry": entry.number,
                    "race_class": entry.race_class,
                }
            )
        else:
            cars.add(key)
            numbers.add(number)
            entry.night, entry.state_since = night, act.at
            entry.is_late = night.is_late_at(act.at)
            entered.append(entry)
    Entry.objects.bulk_create(entered)
    EntryMove.objects.bulk_create(
        EntryMove(entry=entry, to_state=EntryState.WAITING, at=act.at, by=act.by)
        for entry in entered
    )
    record_event(
        "entries.copied", subject=night, act=act, source=source, entered=len(entered)
    )
    return Filled(entered=len(entered), left_out=tuple(left_out))


@transaction.atomic
def enter_own_car(
    night: RaceNight, car: Car, *, race_class: RaceClass, number: str = "", act: Act
) -> Entry:
    """
    Enter a car that one owns or has borrowed, until the list closes.

    One that they took back before is entered again, as it was.  Writes what
    ``enter_car`` or ``move_entry`` writes.  Raises RefusedError when the list is
    closed, the car is somebody else's, and where these do.
    """
    if night.is_late_at(act.at):
        raise RefusedError(
            code="list_closed",
            sentence=_(
                "The list of %(night)s is closed: ask at the desk, which enters late "
                "cars."
            )
            % {"night": night},
        )
    if act.by.pk not in {car.owner_id, car.lent_to_id}:
        raise RefusedError(
            code="not_your_car",
            sentence=_("Car %(car)s is not yours, nor lent to you.") % {"car": car},
            field="car",
        )
    if taken_back := _taken_back(night, car, race_class, act):
        move_entry(taken_back, EntryState.WAITING, act=act, reason=_AGAIN)
        return taken_back
    return enter_car(
        night, car, race_class=race_class, driver=act.by, number=number, act=act
    )


_TAKEN_BACK: Final = "taken back by its driver"
_AGAIN: Final = "entered again by its driver"


def _taken_back(
    night: RaceNight, car: Car, race_class: RaceClass, act: Act
) -> Entry | None:
    """Find, for a change, the entry that somebody took back themselves."""
    withdrawn = night.entries.filter(
        car=car, race_class=race_class, state=EntryState.WITHDRAWN
    )
    if (pk := withdrawn.values_list("pk", flat=True).first()) is None:
        return None
    entry = lock_entry(pk)
    last = entry.moves.latest("id")
    is_own = last.by_id == act.by.pk and last.reason == _TAKEN_BACK
    return entry if is_own else None


@transaction.atomic
def take_own_back(entry_id: int, *, act: Act) -> Entry:
    """
    Take one's own car off the list again, until the list closes.

    Writes what ``move_entry`` writes.  Raises RefusedError when the car is somebody
    else's, was on the block already, the list is closed, and where ``move_entry``
    does.
    """
    entry = lock_entry(entry_id)
    if act.by.pk not in {entry.driver_id, entry.car.owner_id, entry.car.lent_to_id}:
        raise RefusedError(
            code="not_your_car",
            sentence=_("Car %(entry)s is not yours, nor lent to you.")
            % {"entry": entry.number},
        )
    if entry.night.is_late_at(act.at):
        raise RefusedError(
            code="list_closed",
            sentence=_("The list of %(night)s is closed: the desk withdraws cars.")
            % {"night": entry.night},
        )
    if entry.state != EntryState.WAITING or entry.sheets.exists():
        raise RefusedError(
            code="measured_already",
            sentence=_(
                "Car %(entry)s is “%(state)s” and no entry alone any more: the desk "
                "withdraws cars."
            )
            % {"entry": entry.number, "state": word_of(entry.state)},
        )
    move_entry(entry, EntryState.WITHDRAWN, act=act, reason=_TAKEN_BACK)
    return entry


@dataclass(frozen=True, kw_only=True)
class AtTheDesk:
    """
    Who came to the desk, with which car, for which class.

    ``driver``: somebody of the club, or the name of a guest.  ``car``: a car of the
    club, or what a car of the driver's is called.
    """

    driver: Person | str
    car: Car | str
    race_class: RaceClass
    number: str = ""
    layout: Layout = Layout.IN_LINE
    front_carrier: FrontCarrier = FrontCarrier.GUIDE


@transaction.atomic
def enter_at_desk(night: RaceNight, desk: AtTheDesk, *, act: Act) -> Entry:
    """
    Enter whoever stands at the desk: guest, car and entry in one go.

    A guest has no account.  Writes a Person and a Car where they are new, and what
    ``enter_car`` writes; audits what these actions audit.  Raises RefusedError where
    they do, and when the driver has several cars of that name.
    """
    # The night's row is the queue: two desks give no number twice.
    night = RaceNight.objects.select_for_update().get(pk=night.pk)
    driver = desk.driver
    if isinstance(driver, str):
        driver = add_person(
            sign_in_name=f"guest-{secrets.token_hex(6)}",
            name=driver,
            password=None,
            roles=(),
            act=act,
        )
    car = desk.car
    number = desk.number
    if isinstance(car, str):
        car = _car_of(driver, car) or register_car(
            CarFacts(
                number=number or _free_number(night, desk.race_class),
                name=car,
                owner=driver,
                race_class=desk.race_class,
                layout=desk.layout,
                front_carrier=desk.front_carrier,
            ),
            act=act,
        )
    if not number and _is_taken(night, desk.race_class, car):
        number = _free_number(night, desk.race_class)
    return enter_car(
        night, car, race_class=desk.race_class, driver=driver, number=number, act=act
    )


def _car_of(driver: Person, name: str) -> Car | None:
    called_so = Car.objects.racing().filter(owner=driver, name__iexact=name)
    cars = list(called_so[:2])
    if len(cars) > 1:
        tags = ", ".join(car.called for car in cars)
        raise RefusedError(
            code="several_cars",
            sentence=_(
                "%(driver)s has several cars called “%(name)s”: %(tags)s. Type which."
            )
            % {"driver": driver, "name": name, "tags": tags},
            field="car",
        )
    return cars[0] if cars else None


def _is_taken(night: RaceNight, race_class: RaceClass, car: Car) -> bool:
    there = night.entries.filter(race_class=race_class, number=car.number)
    return there.exclude(car=car).exists()


def _free_number(night: RaceNight, race_class: RaceClass) -> str:
    there = night.entries.filter(race_class=race_class)
    return next_free_number(set(there.values_list("number", flat=True)))


@transaction.atomic
def not_here(entry_id: int, *, act: Act) -> Entry:
    """
    Note that a waiting car was called and was not there: it is the last in turn.

    Writes an EntryCall; audits ``entry.called``.  Raises RefusedError when it does
    not wait, or the night is not open.
    """
    entry = lock_entry(entry_id)
    if entry.state != EntryState.WAITING:
        raise RefusedError(
            code="not_waiting",
            sentence=_("Car %(entry)s is “%(state)s”, not waiting.")
            % {"entry": entry.number, "state": word_of(entry.state)},
        )
    if entry.night.opened_at is None or entry.night.closed_at is not None:
        raise RefusedError(
            code="night_not_open",
            sentence=_("%(night)s is not open.") % {"night": entry.night},
        )
    EntryCall.objects.create(entry=entry, at=act.at, by=act.by)
    record_event("entry.called", subject=entry, act=act)
    return entry
