"""Cars: registering one, storing its geometry, fitting parts to it."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.db import transaction

from inspection.compute.entries import PartPosition
from inspection.compute.quantities import QUANTITIES, UnknownColumnError, column_owner
from inspection.compute.quantity import FrontCarrier, Layout
from inspection.models import Car, CarValue, FittedPart, RaceClass
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import move_part
from inventory.compute.errors import ComputeError
from inventory.compute.stock import Move
from inventory.compute.units import parse_reading
from inventory.models import GaugeCheck, GaugeMode, Part, Person


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
    Register a member's car.

    Writes a Car; audits ``car.registered``.  Raises RefusedError when the
    number is painted on another car.
    """
    if Car.objects.filter(number=facts.number).exists():
        raise RefusedError(
            code="number_taken",
            sentence=f"Number {facts.number} is on another car already.",
            field="number",
        )
    car = Car.objects.create(
        number=facts.number,
        name=facts.name,
        owner=facts.owner,
        race_class=facts.race_class,
        layout=facts.layout,
        front_carrier=facts.front_carrier,
        changed_at=act.at,
    )
    record_event("car.registered", subject=car, act=act)
    return car


@transaction.atomic
def store_geometry(
    car: Car, texts: Mapping[str, str], *, taken_with: TakenWith | None, act: Act
) -> list[CarValue]:
    """
    Store values of a car's geometry as typed, column by column.

    Writes a CarValue a column (the one before is superseded) and the Car's
    date; audits ``car.measured``.  Raises RefusedError for an unknown column
    or a text that is no value of it; then nothing is stored.
    """
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


def _stored_value(column: str, text: str) -> int:
    try:
        key, _ = column_owner(column)
    except UnknownColumnError as error:
        raise RefusedError(
            code="column_unknown",
            sentence=f"“{column}” is not a quantity of a car.",
            field=column,
        ) from error
    quantity = QUANTITIES[key]
    if quantity.words is not None:
        words = list(quantity.words)
        if text not in words:
            expected = ", ".join(words)
            raise RefusedError(
                code="word_unknown",
                sentence=f"{quantity.label}: “{text}” is not one of {expected}.",
                field=column,
            )
        return words.index(quantity.words(text)) * 1_000_000
    try:
        return parse_reading(text, unit=quantity.unit).millionths
    except ComputeError as error:
        raise RefusedError.because(error, field=column) from error


@transaction.atomic
def fit_part(
    car: Car, part: Part, position: PartPosition, *, act: Act, note: str = ""
) -> FittedPart:
    """
    Put a part of the inventory in its place on a car.

    Writes the part's move with the note, the end of what sat there before (taken
    back) and a FittedPart; audits ``car.fitted``.  Raises RefusedError when the part is
    not to be had.
    """
    before = (
        FittedPart.objects.select_related("part")
        .filter(car=car, position=position, removed_at=None)
        .first()
    )
    if before is not None:
        remove_part(before, act=act)
    place = f"car {car.number}, {position}"
    move_part(part, Move.FIT, act=act, note=f"{place}; {note}" if note else place)
    fitted = FittedPart.objects.create(
        car=car, position=position, part=part, fitted_at=act.at, fitted_by=act.by
    )
    Car.objects.filter(pk=car.pk).update(changed_at=act.at)
    record_event("car.fitted", subject=car, act=act, part=part.tag, position=position)
    return fitted


@transaction.atomic
def remove_part(fitted: FittedPart, *, act: Act) -> None:
    """
    Take a part off a car and back into stock.

    Writes the FittedPart's end, the part's move and the Car's date; audits
    ``car.unfitted``.
    """
    ended = FittedPart.objects.filter(pk=fitted.pk, removed_at=None).update(
        removed_at=act.at
    )
    if not ended:
        raise RefusedError(
            code="removed_already", sentence=f"{fitted.part} is off the car already."
        )
    move_part(fitted.part, Move.TAKE_BACK, act=act)
    Car.objects.filter(pk=fitted.car_id).update(changed_at=act.at)
    record_event("car.unfitted", subject=fitted.car, act=act, part=fitted.part.tag)
