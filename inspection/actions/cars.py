"""Cars: registering one, storing its geometry."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.other_hands import refuse_own_car
from inspection.actions.readings import lock_sheet
from inspection.compute.night import EntryState
from inspection.compute.quantities import (
    QUANTITIES,
    WORDS_OF_CAR,
    FrontCarrier,
    Layout,
    UnknownColumnError,
    column_owner,
)
from inspection.models import Car, CarValue, Entry, RaceClass, RaceNight, Sheet
from inspection.words.quantities import quantity_name
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.errors import ComputeError
from inventory.compute.numbers import MILLION, parse_reading
from inventory.compute.roles import Ability
from inventory.compute.stock import make_tag
from inventory.models import GaugeCheck, GaugeMode, Person

CAR_PREFIX: Final = "C"
_TAG_SIGNS: Final = 12


@dataclass(frozen=True, kw_only=True)
class CarFacts:
    """What a car is, besides its sizes."""

    number: str
    name: str
    owner: Person
    race_class: RaceClass
    layout: Layout
    front_carrier: FrontCarrier


@dataclass(frozen=True, kw_only=True)
class TakenWith:
    """The gauge that stored geometry was taken with, and its last check."""

    gauge_mode: GaugeMode
    gauge_check: GaugeCheck | None


@transaction.atomic
def register_car(facts: CarFacts, *, act: Act) -> Car:
    """
    Register a member's car, and give it a tag.

    Writes a Car, and who said what it is; audits ``car.registered``.
    """
    car = Car.objects.create(
        tag=uuid.uuid4().hex[:_TAG_SIGNS],
        number=facts.number,
        name=facts.name,
        owner=facts.owner,
        race_class=facts.race_class,
        layout=facts.layout,
        front_carrier=facts.front_carrier,
        changed_at=act.at,
    )
    # A key is never given twice, so neither is a tag that is made of it.
    car.tag = make_tag(CAR_PREFIX, car.pk)
    car.save(update_fields=["tag"])
    _note_words(car, act, is_declared=not _looks_for_the_club(car, act))
    record_event("car.registered", subject=car, act=act)
    return car


@transaction.atomic
def change_car(car: Car, facts: CarFacts, *, act: Act) -> Car:
    """
    Say anew what a car is: its number, name, class, motor, what carries its front.

    Entries keep the number and the class they were made with.  Writes the Car, and who
    said what it is where that is new; audits ``car.changed``.  Raises RefusedError to
    the owner or a driver while the car is under inspection, and when its motor or front
    is said anew while it is on a block.
    """
    _refuse_while_inspected(car, act)
    car = Car.objects.select_for_update().get(pk=car.pk)
    is_rebuilt = (car.layout, car.front_carrier) != (facts.layout, facts.front_carrier)
    if is_rebuilt and Sheet.objects.open().filter(entry__car=car).exists():
        raise RefusedError(
            code="on_the_block",
            sentence=_(
                "Car %(car)s is on the block: its motor and what carries its front "
                "stay as they are."
            )
            % {"car": car.number},
        )
    car.number, car.name, car.race_class = facts.number, facts.name, facts.race_class
    car.layout, car.front_carrier = facts.layout, facts.front_carrier
    car.changed_at = act.at if is_rebuilt else car.changed_at
    car.save()
    if is_rebuilt:
        _note_words(car, act, is_declared=not _looks_for_the_club(car, act))
    record_event("car.changed", subject=car, act=act)
    return car


@transaction.atomic
def confirm_car(car: Car, *, act: Act) -> None:
    """
    Say that a car is what it is registered as: its layout and what carries its front.

    Writes a CarValue for each of the two; audits ``car.confirmed``.  Raises
    RefusedError to whoever does not measure for the club, and to whoever is concerned
    in the car or in its entry tonight.
    """
    _refuse_while_inspected(car, act)
    if not _looks_for_the_club(car, act):
        raise RefusedError(
            code="own_car",
            sentence=_(
                "Car %(car)s is yours or your family’s to race, or you do not measure "
                "for the club: a scrutineer or a keeper confirms what it is."
            )
            % {"car": car},
        )
    _note_words(car, act, is_declared=False)
    record_event("car.confirmed", subject=car, act=act)


@transaction.atomic
def confirm_on_block(number: str, *, act: Act) -> None:
    """
    Say of the car on the block that it is what it is registered as.

    Writes a CarValue for each of the two; audits ``car.confirmed``.  Raises
    Sheet.DoesNotExist, and RefusedError when the sheet is sealed or void, or the car
    is that person's own or their family's and others may look at it.
    """
    sheet = lock_sheet(number)
    refuse_own_car(sheet, Ability.INSPECT_CARS, act)
    car = sheet.entry.car
    _note_words(car, act, is_declared=False)
    record_event("car.confirmed", subject=car, act=act, sheet=sheet.number)


def _looks_for_the_club(car: Car, act: Act) -> bool:
    """Whether somebody measures for the club and is not concerned in a car."""
    return act.by.may(Ability.MEASURE_FOR_THE_CLUB) and act.by.pk not in car.concerned


def _note_words(car: Car, act: Act, *, is_declared: bool) -> None:
    """Keep who said what a car is; what was said before is superseded."""
    CarValue.objects.current().filter(car=car, column__in=WORDS_OF_CAR).update(
        superseded_at=act.at
    )
    words = zip(WORDS_OF_CAR, (car.layout, car.front_carrier), strict=True)
    CarValue.objects.bulk_create(
        CarValue(
            car=car,
            column=column,
            value=_stored_value(column, str(word)),
            text=str(word),
            taken_at=act.at,
            by=act.by,
            is_declared=is_declared,
        )
        for column, word in words
    )


@transaction.atomic
def lend_car(car: Car, person: Person | None, *, act: Act) -> Car:
    """
    Lend a car to somebody who races it, or take it back (None).

    Writes the Car; audits ``car.lent``.  Raises RefusedError when it is retired or
    the owner's own.
    """
    car = Car.objects.select_for_update().get(pk=car.pk)
    if person is not None and car.retired_at is not None:
        raise RefusedError(
            code="car_retired",
            sentence=_("Car %(car)s is retired.") % {"car": car},
            field="person",
        )
    if person is not None and person.pk == car.owner_id:
        raise RefusedError(
            code="own_car",
            sentence=_("Car %(car)s is %(person)s’s own; name whoever borrows it.")
            % {"car": car, "person": person},
            field="person",
        )
    car.lent_to = person
    car.save(update_fields=["lent_to"])
    record_event("car.lent", subject=car, act=act, person=person.pk if person else None)
    return car


@transaction.atomic
def sell_car(car: Car, person: Person, *, act: Act) -> Car:
    """
    Give a car to another owner; a loan of it ends.

    Its sheets go with it.  Writes the Car; audits ``car.sold``.  Raises RefusedError
    when the person owns it already, or it is under inspection tonight.
    """
    car = Car.objects.select_for_update().get(pk=car.pk)
    if person.pk == car.owner_id:
        raise RefusedError(
            code="own_car",
            sentence=_("Car %(car)s is %(person)s’s already.")
            % {"car": car, "person": person},
            field="person",
        )
    _refuse_tonight(car, _("it changes hands when the night is closed"))
    before, car.owner, car.lent_to = car.owner_id, person, None
    car.save(update_fields=["owner", "lent_to"])
    record_event("car.sold", subject=car, act=act, before=before, after=person.pk)
    return car


@transaction.atomic
def retire_car(car: Car, *, act: Act) -> Car:
    """
    Take a car out of racing; its sheets stay.

    Writes the Car, whose loan ends; audits ``car.retired``.  Raises RefusedError when
    it is retired already, or entered tonight.
    """
    car = Car.objects.select_for_update().get(pk=car.pk)
    if car.retired_at is not None:
        raise RefusedError(
            code="retired", sentence=_("Car %(car)s is retired already.") % {"car": car}
        )
    _refuse_tonight(car, _("withdraw it first"))
    car.retired_at, car.lent_to = act.at, None
    car.save(update_fields=["retired_at", "lent_to"])
    record_event("car.retired", subject=car, act=act)
    return car


@transaction.atomic
def race_again(car: Car, *, act: Act) -> Car:
    """
    Bring a retired car back.

    Writes the Car; audits ``car.races_again``.  Raises RefusedError when it is not
    retired.
    """
    back = Car.objects.filter(pk=car.pk).exclude(retired_at=None)
    if not back.update(retired_at=None):
        raise RefusedError(
            code="not_retired", sentence=_("Car %(car)s is not retired.") % {"car": car}
        )
    record_event("car.races_again", subject=car, act=act)
    car.refresh_from_db()
    return car


def _refuse_tonight(car: Car, what: str) -> None:
    open_nights = RaceNight.objects.under_way().values("pk")
    there = Entry.objects.filter(car=car, night__in=open_nights)
    entry = there.exclude(state=EntryState.WITHDRAWN).select_related("night").first()
    if entry is not None:
        raise RefusedError(
            code="entered_tonight",
            sentence=_("Car %(car)s is entered on %(night)s, which is open; %(what)s.")
            % {"car": car, "night": entry.night, "what": what},
        )


@transaction.atomic
def store_geometry(
    car: Car, texts: Mapping[str, str], *, taken_with: TakenWith | None, act: Act
) -> list[CarValue]:
    """
    Store values of a car's geometry as typed, column by column.

    Writes a CarValue a column (the one before is superseded) and the Car's
    date; audits ``car.measured``.  Raises RefusedError for an unknown column
    or a text that is no value of it, and to the owner or a driver while the car is
    under inspection on an open night; then nothing is stored.
    """
    _refuse_while_inspected(car, act)
    is_declared = not act.by.may(Ability.MEASURE_FOR_THE_CLUB)
    rows = [
        CarValue(
            car=car,
            column=column,
            value=_stored_value(column, text),
            text=text,
            gauge_mode=taken_with.gauge_mode if taken_with else None,
            gauge_check=taken_with.gauge_check if taken_with else None,
            taken_at=act.at,
            by=act.by,
            is_declared=is_declared,
        )
        for column, text in texts.items()
    ]
    CarValue.objects.filter(car=car, column__in=texts).current().update(
        superseded_at=act.at
    )
    CarValue.objects.bulk_create(rows)
    Car.objects.filter(pk=car.pk).update(changed_at=act.at)
    record_event("car.measured", subject=car, act=act, columns=sorted(texts))
    return rows


def _refuse_while_inspected(car: Car, act: Act) -> None:
    """Lock a car's figures to whoever is concerned from its first sheet tonight."""
    sheets = Sheet.objects.filter(
        entry__car=car,
        entry__night__opened_at__isnull=False,
        entry__night__closed_at=None,
    )
    for sheet in sheets.select_related("entry__night", "entry__car"):
        if act.by.pk not in sheet.entry.concerned:
            continue
        raise RefusedError(
            code="under_inspection",
            sentence=_(
                "Car %(car)s is under inspection: from its first sheet (%(sheet)s) "
                "until %(night)s closes, a scrutineer stores its sizes."
            )
            % {"car": car.number, "sheet": sheet.number, "night": sheet.entry.night},
        )


def _stored_value(column: str, text: str) -> int:
    try:
        key, _side = column_owner(column)
    except UnknownColumnError as error:
        raise RefusedError(
            code="column_unknown",
            sentence=_("“%(column)s” is not a quantity of a car.") % {"column": column},
            field=column,
        ) from error
    quantity = QUANTITIES[key]
    if quantity.words is not None:
        words = list(quantity.words)
        if text not in words:
            expected = ", ".join(words)
            raise RefusedError(
                code="word_unknown",
                sentence=_("%(label)s: “%(text)s” is not one of %(expected)s.")
                % {
                    "label": quantity_name(quantity),
                    "text": text,
                    "expected": expected,
                },
                field=column,
            )
        return words.index(quantity.words(text)) * MILLION
    try:
        return parse_reading(text, unit=quantity.unit).millionths
    except ComputeError as error:
        raise RefusedError.because(error, field=column) from error
