"""What came of cars on nights before the club kept its sheets here."""

import datetime as dt
from dataclasses import dataclass
from typing import Final

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from inspection.compute.night import EntryState
from inspection.models import Car, Entry, EntryMove, RaceClass, RaceNight
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.loaders.clocks import club_zone
from inventory.models import Person

FROM_A_LIST: Final = "From a list of past results; there is no sheet of it."
_EVENING: Final = dt.time(20)


@dataclass(frozen=True, kw_only=True)
class PastResult:
    """One car on one night of the past."""

    night: str
    date: dt.date
    place: str
    car: Car
    race_class: RaceClass
    driver: Person
    state: EntryState


@transaction.atomic
def record_past_result(result: PastResult, *, act: Act) -> bool:
    """
    Keep what came of a car on a night of the past; False where it is kept already.

    Writes a closed RaceNight where there is none of that name and day, an Entry and
    its one EntryMove; audits ``night.recalled`` and ``entry.recalled``.  Raises
    RefusedError for a day that is not over, a night that was held here, or a number
    that another car had.
    """
    night = _night(result, act)
    entries = Entry.objects.filter(night=night, race_class=result.race_class)
    if entries.filter(car=result.car).exists():
        return False
    if entries.filter(number=result.car.number).exists():
        raise RefusedError(
            code="number_taken",
            sentence=_("Another car has number %(car)s in that class on that night.")
            % {"car": result.car.number},
            field="car",
        )
    at = _evening(result.date)
    entry = Entry.objects.create(
        night=night,
        car=result.car,
        race_class=result.race_class,
        driver=result.driver,
        number=result.car.number,
        state=result.state,
        state_since=at,
    )
    EntryMove.objects.create(
        entry=entry, to_state=result.state, at=at, by=act.by, reason=FROM_A_LIST
    )
    record_event("entry.recalled", subject=entry, act=act, state=result.state)
    return True


def _night(result: PastResult, act: Act) -> RaceNight:
    at = _evening(result.date)
    if at >= act.at:
        raise RefusedError(
            code="night_not_over",
            sentence=_("%(result)s is not over: a past result was expected.")
            % {"result": date_format(result.date, "j M Y")},
            field="date",
        )
    night = RaceNight.objects.filter(name=result.night, date=result.date).first()
    if night is None:
        night = RaceNight.objects.create(
            name=result.night,
            date=result.date,
            place=result.place,
            opened_at=at,
            opened_by=act.by,
            closed_at=at,
        )
        record_event("night.recalled", subject=night, act=act)
    elif night.classes.exists():
        raise RefusedError(
            code="night_held_here",
            sentence=_(
                "%(night)s on %(result)s was held here: its results are those of its "
                "sheets."
            )
            % {"night": night, "result": date_format(result.date, "j M Y")},
            field="night",
        )
    return night


def _evening(date: dt.date) -> dt.datetime:
    return dt.datetime.combine(date, _EVENING, tzinfo=club_zone())
