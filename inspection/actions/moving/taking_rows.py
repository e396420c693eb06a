"""One row of a list at a time: what it becomes, and why it is refused."""

import datetime as dt
import re
import unicodedata
from collections.abc import Callable, Mapping
from contextlib import suppress
from enum import StrEnum
from types import MappingProxyType
from typing import Final, TypeVar

from django.utils.translation import gettext as _

from inspection.actions.cars import CarFacts, register_car, store_geometry
from inspection.actions.moving.past_results import PastResult, record_past_result
from inspection.compute.lists import ListKind
from inspection.compute.night import EntryState
from inspection.compute.quantities import FrontCarrier, Layout
from inspection.files.lists.columns import GEOMETRY, PAST_STATES
from inspection.loaders.cars.addresses import cars_called
from inspection.models import Car, RaceClass
from inventory.actions.audit import Act
from inventory.actions.gauges import ModeFigures, add_gauge
from inventory.actions.people.joining import add_person
from inventory.actions.refusals import RefusedError
from inventory.compute.errors import ComputeError
from inventory.compute.measuring import GaugeMode as Mode
from inventory.compute.measuring import Instrument
from inventory.compute.numbers import Unit, parse_reading
from inventory.compute.roles import Role
from inventory.loaders.people import people_called
from inventory.models import Gauge, GaugeMode, Person

Said = Mapping[str, str]
Word = TypeVar("Word", bound=StrEnum)
_USUAL_DAYS: Final = 365
#: How a day may be written so that it is one day alone.
_DAYS: Final = ("%Y-%m-%d", "%d.%m.%Y", "%d %B %Y", "%d %b %Y")


class AlreadyHereError(Exception):
    """What a row says is in the club already; the row is left out."""


def take_row(kind: ListKind, cells: Said, *, act: Act) -> None:
    """
    Write what a row says; part of taking a list.

    Raises RefusedError, with the column as its field, where it cannot be, and
    AlreadyHereError where it is here already.
    """
    _TAKERS[kind](cells, act)


def _take_person(cells: Said, act: Act) -> None:
    name = cells["name"]
    sign_in_name = cells.get("sign_in_name", "")
    here = Person.objects.filter(name__iexact=name).first()
    if sign_in_name:
        here = Person.objects.filter(sign_in_name__iexact=sign_in_name).first()
    if here is not None and here.name.casefold() == name.casefold():
        msg = f"{here.name} is here already and signs in as “{here.sign_in_name}”."
        raise AlreadyHereError(msg)
    add_person(
        sign_in_name=sign_in_name or _sign_in_name(name),
        name=name,
        password=None,
        roles=_roles(cells.get("roles", "")),
        act=act,
    )


def _sign_in_name(name: str) -> str:
    """Make a sign-in name of plain letters, one that nobody has."""
    letters = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    made = ".".join(re.findall(r"[a-z0-9]+", letters.lower()))[:30]
    if not made:
        raise RefusedError(
            code="no_sign_in_name",
            sentence=_(
                "No sign-in name of plain letters can be made of “%(name)s”: give one "
                "in a column of its own."
            )
            % {"name": name},
            field="sign_in_name",
        )
    taken = {
        one.lower()
        for one in Person.objects.filter(sign_in_name__istartswith=made).values_list(
            "sign_in_name", flat=True
        )
    }
    number = 1
    while (one := made if number == 1 else f"{made}{number}") in taken:
        number += 1
    return one


def _roles(text: str) -> list[Role]:
    words = [word.strip() for word in re.split(r"[,;/]", text) if word.strip()]
    return [_word(Role, word, field="roles") for word in words] or [Role.MEMBER]


def _take_gauge(cells: Said, act: Act) -> None:
    figures = _figures(cells)
    here = Gauge.objects.filter(name__iexact=cells["name"]).first()
    instrument = _word(Instrument, cells["instrument"], field="instrument")
    if here is None:
        add_gauge(
            name=cells["name"],
            instrument=instrument,
            modes=[figures],
            check_every_days=_days(cells.get("days", "")),
            act=act,
        )
        return
    modes = here.modes.filter(mode=figures.mode, unit=figures.unit, replaced_at=None)
    # Of a list that is being taken, a gauge's further modes follow its first.
    if modes.exists() or here.checks.exists():
        msg = f"{here.name}, {figures.mode}, is here already."
        raise AlreadyHereError(msg)
    GaugeMode.objects.create(gauge=here, **vars(figures))


def _figures(cells: Said) -> ModeFigures:
    unit = _word(Unit, cells.get("unit", Unit.MILLIMETRE), field="unit")
    return ModeFigures(
        mode=_word(Mode, cells.get("mode", Mode.OUTSIDE), field="mode"),
        unit=unit,
        resolution=_millionths(cells["resolution"], unit, field="resolution"),
        max_permissible_error=_millionths(cells["error"], unit, field="error"),
        repeatability=_millionths(
            cells.get("repeatability", "0"), unit, field="repeatability"
        ),
    )


def _millionths(text: str, unit: Unit, *, field: str) -> int:
    try:
        millionths = parse_reading(text, unit=unit).millionths
    except ComputeError as error:
        raise RefusedError.because(error, field=field) from error
    if millionths < 0:
        raise _refused(
            field=field,
            sentence=_("“%(text)s” is less than nothing; 0 or more is expected.")
            % {"text": text},
        )
    return millionths


def _days(text: str) -> int:
    if not text:
        return _USUAL_DAYS
    if not text.isdecimal() or not 0 < int(text) <= 10_000:
        raise _refused(
            field="days",
            sentence=_("“%(text)s”: whole days were expected, such as 180.")
            % {"text": text},
        )
    return int(text)


def _take_car(cells: Said, act: Act) -> None:
    number = cells["number"]
    if not number.isalnum():
        words = _("“%(number)s” is no number of a car: letters and digits make one.")
        raise _refused(field="number", sentence=words % {"number": number})
    owner = _person(cells["owner"], field="owner")
    here = Car.objects.filter(number=number, name__iexact=cells["name"], owner=owner)
    if car := here.first():
        msg = f"{owner}'s car {car.called} is here already."
        raise AlreadyHereError(msg)
    made = register_car(
        CarFacts(
            number=number,
            name=cells["name"],
            owner=owner,
            race_class=_race_class(cells["race_class"]),
            layout=_word(Layout, cells["layout"], field="layout"),
            front_carrier=_word(
                FrontCarrier, cells["front_carrier"], field="front_carrier"
            ),
        ),
        act=act,
    )
    sizes = {one.name: cells[one.name] for one in GEOMETRY if one.name in cells}
    if sizes:
        store_geometry(made, sizes, taken_with=None, act=act)


def _take_result(cells: Said, act: Act) -> None:
    car = _car(cells["car"])
    result = PastResult(
        night=cells["night"],
        date=_day(cells["date"]),
        place=cells.get("place", ""),
        car=car,
        race_class=_race_class(cells["race_class"])
        if "race_class" in cells
        else car.race_class,
        driver=_person(cells["driver"], field="driver")
        if "driver" in cells
        else car.owner,
        state=_word(EntryState, cells["result"], field="result", among=PAST_STATES),
    )
    if not record_past_result(result, act=act):
        msg = f"{car} is in {result.night} already."
        raise AlreadyHereError(msg)


def _day(text: str) -> dt.date:
    day = text.removesuffix(" 00:00:00").removesuffix("T00:00:00")
    for form in _DAYS:
        with suppress(ValueError):
            return dt.datetime.strptime(day, form).replace(tzinfo=dt.UTC).date()
    raise _refused(
        field="date",
        sentence=_("“%(text)s” is no day; one such as 2026-05-08 was expected.")
        % {"text": text},
    )


def _car(text: str) -> Car:
    cars = cars_called(Car.objects.select_related("owner", "race_class"), text)
    if len(cars) == 1:
        return cars[0]
    which = ", ".join(car.called for car in cars)
    raise _refused(
        field="car",
        sentence=_("“%(text)s” may be %(which)s: its tag says which.")
        % {"text": text, "which": which}
        if cars
        else _("No car here is called “%(text)s”: bring the cars in first.")
        % {"text": text},
    )


def _person(text: str, *, field: str) -> Person:
    people = people_called(text)
    if len(people) == 1:
        return people[0]
    which = ", ".join(person.sign_in_name for person in people)
    raise _refused(
        field=field,
        sentence=_(
            "“%(text)s” is several people's name: the sign-in name of one is expected, "
            "of %(which)s."
        )
        % {"text": text, "which": which}
        if people
        else _("Nobody here is called “%(text)s”: bring the people in first.")
        % {"text": text},
    )


def _race_class(text: str) -> RaceClass:
    race_class = RaceClass.objects.filter(name__iexact=text).first()
    if race_class is None:
        names = ", ".join(RaceClass.objects.values_list("name", flat=True)[:20])
        expected = (
            _("one of %(names)s was expected") % {"names": names}
            if names
            else _("there is none yet")
        )
        raise _refused(
            field="race_class",
            sentence=_("“%(text)s” is no class here; %(expected)s.")
            % {"text": text, "expected": expected},
        )
    return race_class


def _word(
    words: type[Word], text: str, *, field: str, among: tuple[Word, ...] = ()
) -> Word:
    """Give the word that is meant, however it is written."""
    allowed = among or tuple(words)
    for word in allowed:
        if _letters(word) == _letters(text):
            return word
    expected = ", ".join(word for word in allowed if word)
    raise _refused(
        field=field,
        sentence=_("“%(text)s” was not expected: one of %(expected)s was.")
        % {"text": text, "expected": expected},
    )


def _letters(text: str) -> str:
    return "".join(sign for sign in text.casefold() if sign.isalnum() or sign in "µΩ%")


def _refused(*, field: str, sentence: str) -> RefusedError:
    return RefusedError(code="row_wrong", sentence=sentence, field=field)


_TAKERS: Final[Mapping[ListKind, Callable[[Said, Act], None]]] = MappingProxyType(
    {
        ListKind.PEOPLE: _take_person,
        ListKind.GAUGES: _take_gauge,
        ListKind.CARS: _take_car,
        ListKind.RESULTS: _take_result,
    }
)
