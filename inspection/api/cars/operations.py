"""Cars: registered, said anew, lent, sold, retired; their sizes and their parts."""

from collections.abc import Callable, Mapping
from typing import Any

from django.db.models import QuerySet
from django.http import Http404

from inspection.access import cars_seen_by, may_keep
from inspection.actions.cars import (
    CarFacts,
    TakenWith,
    change_car,
    confirm_car,
    lend_car,
    race_again,
    register_car,
    retire_car,
    sell_car,
)
from inspection.actions.fit.on_car import (
    may_change_parts,
    put_on,
    put_pair_on,
    swap_sides,
    take_off,
)
from inspection.actions.fit.sizes import store_sizes
from inspection.actions.jigs import save_jig
from inspection.api.cars.gives import CarLine, CarShown, SizesStored
from inspection.api.cars.takes import (
    AxleSaid,
    CarSaid,
    HandsSaid,
    PairOnSaid,
    PutOnSaid,
    SizesSaid,
    TypedJig,
)
from inspection.compute.night import Axle, PartPosition
from inspection.compute.quantities import (
    COLUMNS,
    WORDS_OF_CAR,
    FrontCarrier,
    Layout,
)
from inspection.forms.cars.cars import NewCarForm
from inspection.forms.cars.sizes import SizesForm
from inspection.forms.jig import JigForm
from inspection.loaders.block.car_words import words_of_car
from inspection.loaders.block.values import stored_values
from inspection.loaders.cars.on_car import load_places, position_of
from inspection.loaders.cars.sizes import questions_of, typed_needs
from inspection.loaders.fit.cars import load_cars
from inspection.models import Car, RaceClass
from inventory.api.foundation.cursors import Order
from inventory.api.foundation.operations import (
    Call,
    Operation,
    ends,
    lists,
    makes,
    reads,
    writes,
)
from inventory.api.foundation.problems import ProblemError
from inventory.api.foundation.rows import named_row, person_named
from inventory.api.foundation.shapes import form_data
from inventory.api.parts.parts import refuse_form
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope
from inventory.loaders.gauges import load_gauges
from inventory.loaders.parts import parts_open_to
from inventory.models import PartSet, Person

_OWN: Mapping[str, Any] = {"asks": Ability.LOOK, "scope": Scope.ALL}
_ON: Mapping[str, Any] = {"asks": Ability.LOOK, "scope": Scope.PARTS}


@lists(CarLine, order=Order(columns={"tag": "tag", "number": "number"}, usual="number"))
def list_cars(call: Call) -> QuerySet[Car]:
    """List the cars that whoever asks may open."""
    return _seen(call)


@reads(CarShown)
def show_car(call: Call, tag: str) -> dict[str, Any]:
    """Tell of a car: what sits on it, and its stored sizes."""
    return _told(call, tag)


@makes(
    CarShown,
    takes=CarSaid,
    example={
        "number": "77",
        "name": "Blue one",
        "race_class": 1,
        "layout": "in-line",
        "front_carrier": "guide",
    },
    **_OWN,
)
def register_a_car(call: Call) -> dict[str, Any]:
    """Register a car of one's own."""
    made = register_car(_facts(call, call.person), act=call.act)
    return _told(call, made.tag)


def _lock(call: Call, tag: str) -> None:
    _kept(call, tag)
    list(Car.objects.select_for_update().filter(tag=tag))


@writes(
    CarShown,
    takes=CarSaid,
    guarded_by=show_car,
    locks=_lock,
    example={
        "number": "78",
        "name": "Blue one",
        "race_class": 1,
        "layout": "in-line",
        "front_carrier": "guide",
    },
    **_OWN,
)
def change_a_car(call: Call, tag: str) -> dict[str, Any]:
    """Say anew what a car is."""
    car = _kept(call, tag)
    change_car(car, _facts(call, car.owner), act=call.act)
    return _told(call, tag)


@writes(CarShown, asks=Ability.MEASURE_FOR_THE_CLUB, scope=Scope.ALL)
def confirm_a_car(call: Call, tag: str) -> dict[str, Any]:
    """
    Say that a car is what it is registered as: its layout, what carries its front.

    Until somebody who measures for the club has looked, both are only declared, and
    on the block no mandatory rule passes that rests on them.
    """
    confirm_car(_car(call, tag), act=call.act)
    return _told(call, tag)


def _move(
    name: str, words: str, move: Callable[[Call, Car], object], **more: Any
) -> Operation:
    def do(call: Call, tag: str) -> Car:
        car = _kept(call, tag)
        move(call, car)
        return Car.objects.select_related("owner", "lent_to", "race_class").get(
            pk=car.pk
        )

    do.__name__, do.__doc__ = name, words
    return writes(CarLine, **_OWN, **more)(do)


def _person(call: Call) -> Person:
    return person_named(call.said["person"], field="person")


lend = _move(
    "lend_a_car",
    "Lend a car to somebody who races it.",
    lambda call, car: lend_car(car, _person(call), act=call.act),
    takes=HandsSaid,
    example={"person": 1},
)
back = _move(
    "take_a_car_back",
    "Take a lent car back.",
    lambda call, car: lend_car(car, None, act=call.act),
)
sell = _move(
    "sell_a_car",
    "Give a car to another owner.",
    lambda call, car: sell_car(car, _person(call), act=call.act),
    takes=HandsSaid,
    example={"person": 1},
)
retire = _move(
    "retire_a_car",
    "Take a car out of racing.",
    lambda call, car: retire_car(car, act=call.act),
)
race = _move(
    "race_a_car_again",
    "Bring a retired car back.",
    lambda call, car: race_again(car, act=call.act),
)


@writes(
    SizesStored,
    takes=SizesSaid,
    example={"values": {"axle_diameter": "3.00"}},
    **_OWN,
)
def store_sizes_of(call: Call, tag: str) -> dict[str, int]:
    """Store sizes of a car: its owner's work, or a scrutineer's."""
    car, body = _car(call, tag), call.said
    (now,) = load_cars(cars_seen_by(call.person).filter(pk=car.pk))
    typed = {**body["values"], **body["room"], "gauge": body["gauge"]}
    form = SizesForm(
        form_data(typed | {"right": body["confirmed"]}),
        sizes=typed_needs(questions_of(now)),
        gauges=load_gauges(call.act.at),
    )
    refuse_form(form)
    gauge = form.chosen_gauge
    taken = TakenWith(gauge_mode=gauge.mode, gauge_check=gauge.check) if gauge else None
    count = store_sizes(
        car, body["values"], body["room"], taken_with=taken, act=call.act
    )
    return {"stored": count}


@writes(CarShown, takes=PutOnSaid, example={"part": "T2A9"}, **_ON)
def put_part_on(call: Call, tag: str, place: str) -> dict[str, Any]:
    """Put a part that is to be had in its place on a car."""
    car, position = _changed(call, tag), _position(place)
    parts = parts_open_to(call.person).select_related("gear", "holder", "owner")
    part = named_row(parts, call.said["part"], field="part", by="tag")
    put_on(
        car,
        part,
        position,
        act=call.act,
        since=call.said["since"],
        is_meant=call.said["confirmed"],
    )
    return _told(call, tag)


@ends(**_ON)
def take_part_off(call: Call, tag: str, place: str) -> None:
    """Take what sits in a place off a car; it goes back into its drawer."""
    car = _changed(call, tag)
    take_off(car, _position(place), act=call.act, to_drawer=True)


@writes(CarShown, takes=PairOnSaid, example={"pair": "P2A9", "axle": "rear"}, **_ON)
def put_pair_onto(call: Call, tag: str) -> dict[str, Any]:
    """Put a pair of tyres on an axle, the smaller one left."""
    car, body = _changed(call, tag), call.said
    pair = named_row(PartSet.objects.all(), body["pair"], field="pair", by="tag")
    put_pair_on(car, pair, Axle(body["axle"]), act=call.act, since=body["since"])
    return _told(call, tag)


@writes(CarShown, takes=AxleSaid, example={"axle": "rear"}, **_ON)
def swap_tyres(call: Call, tag: str) -> dict[str, Any]:
    """Swap the left and the right tyre of an axle."""
    swap_sides(_changed(call, tag), Axle(call.said["axle"]), act=call.act)
    return _told(call, tag)


@makes(
    CarLine,
    takes=TypedJig,
    example={"typed": {"jig_tyre": "20", "race_tyre": "19.5", "can_height": "15"}},
    **_OWN,
)
def keep_jig_sheet(call: Call, tag: str) -> Car:
    """Keep a jig sheet with a car."""
    car = _car(call, tag)
    form = JigForm(call.said["typed"])
    refuse_form(form)
    save_jig(car, form.typed(), act=call.act)
    return car


def _seen(call: Call) -> QuerySet[Car]:
    return cars_seen_by(call.person).select_related("lent_to")


def _car(call: Call, tag: str) -> Car:
    car = _seen(call).filter(tag=tag).first()
    if car is None:
        msg = f"There is no car {tag} for you to see."
        raise Http404(msg)
    return car


def _kept(call: Call, tag: str) -> Car:
    car = _car(call, tag)
    if not may_keep(call.person, car):
        msg = f"There is no car {tag} for you to change."
        raise Http404(msg)
    return car


def _changed(call: Call, tag: str) -> Car:
    car = _car(call, tag)
    if not may_change_parts(car, call.person):
        msg = f"What is on car {tag} is not yours to change."
        raise Http404(msg)
    return car


def _position(place: str) -> PartPosition:
    position = position_of(place)
    if position is None:
        msg = f"“{place}” is no place on a car."
        raise Http404(msg)
    return position


def _told(call: Call, tag: str) -> dict[str, Any]:
    car = _car(call, tag)
    values = stored_values(car)
    words = words_of_car(car, values).values()
    return {
        "car": car,
        "is_confirmed": not any(one.is_only_declared for one in words),
        "places": list(load_places(car).values()),
        "geometry": [
            values[column]
            for column in COLUMNS
            if column in values and column not in WORDS_OF_CAR
        ],
    }


def _facts(call: Call, owner: Person) -> CarFacts:
    body = call.said
    form = NewCarForm(form_data(body))
    if not form.is_valid():
        raise ProblemError.of_form(form)
    race_class = named_row(
        RaceClass.objects.all(), body["race_class"], field="race_class"
    )
    return CarFacts(
        number=form.cleaned_data["number"],
        name=form.cleaned_data["name"],
        owner=owner,
        race_class=race_class,
        layout=Layout(body["layout"]),
        front_carrier=FrontCarrier(body["front_carrier"]),
    )
