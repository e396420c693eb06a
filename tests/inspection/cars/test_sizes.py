"""A car's sizes: every input of every check is entered on a page of the car."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field, fields
from html import unescape
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest
from django.test import Client

from inspection.actions.cars import CarFacts, register_car
from inspection.actions.fit.on_car import put_on
from inspection.compute.fit import (
    Envelope,
    Mounting,
    gear_fit,
    motor_fit,
    pinion_fit,
    tyre_fit,
)
from inspection.compute.night import PartPosition
from inspection.compute.quantities import (
    QUANTITIES,
    FrontCarrier,
    Kind,
    Layout,
    column_owner,
)
from inspection.compute.stance import readings_behind
from inspection.compute.what_if import Gears, Motors, Pairs, Pinions
from inspection.loaders.cars.sizes import questions_of
from inspection.loaders.fit.cars import load_cars
from inspection.models import Car, CarValue, RoomSize
from inventory.compute.stock import (
    GearFacts,
    GearRole,
    GuideFacts,
    MotorFacts,
    PartQuantity,
    TyreFacts,
)
from inventory.models import AuditRow, Person
from tests import builders
from tests.inspection import garage

pytestmark = pytest.mark.django_db

#: By what each field of a table of parts is entered: a size, a fact, or a column.
ENTERED: dict[type, dict[str, str]] = {
    Gears: {
        "teeth": "teeth",
        "outside_diameter_mm": "size_gear_diameter",
        "module_mm": "pitch_name",
        "family": "family",
        "role": "role",
        "bore_mm": "size_bore",
        "fixing": "fixing",
        "hub_width_mm": "size_hub_width",
        "face_width_mm": "size_face_width",
        "crown_depth_mm": "size_crown_depth",
        "cut_for_teeth": "cut_for_teeth",
        "mass_g": "size_mass",
    },
    Pinions: {
        "teeth": "teeth",
        "module_mm": "pitch_name",
        "family": "family",
        "bore_mm": "size_bore",
        "fixing": "fixing",
        "face_width_mm": "size_face_width",
        "length_mm": "size_hub_width",
    },
    Motors: {
        "can_height_mm": "size_can_height",
        "can_width_mm": "size_can_width",
        "can_length_mm": "size_can_length",
        "shaft_diameter_mm": "size_shaft_diameter",
        "shaft_length_mm": "size_shaft_length",
        "speed_rpm": "size_motor_speed",
        "resistance_ohm": "size_motor_resistance",
        "mass_g": "size_mass",
    },
    Pairs: {
        "left_diameter_mm": "size_tyre_diameter",
        "right_diameter_mm": "size_tyre_diameter",
        "width_mm": "size_tyre_width",
        "bore_mm": "size_bore",
        "hardness": "size_tyre_hardness",
        "out_of_round_mm": "size_out_of_round",
        "taper_mm": "size_taper",
        "mass_g": "size_mass",
    },
}
#: What no page asks: the rows' doubts, and what is taken as it usually is.
USUAL = {
    Gears: {"doubts", "design_offset_mm"},
    Pinions: {"doubts"},
    Motors: {"doubts", "shaft_height_in_can_mm"},
    Pairs: {"doubts", "fixing", "run_out_mm", "rim_diameter_mm"},
}
POSITION_OF: dict[type, PartPosition] = {
    Gears: PartPosition.GEAR,
    Pinions: PartPosition.PINION,
    Motors: PartPosition.MOTOR,
    Pairs: PartPosition.REAR_LEFT,
}


class Names(HTMLParser):
    """The names of the fields of a page, and where its links lead."""

    def __init__(self) -> None:
        super().__init__()
        self.names: set[str] = set()
        self.links: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        if tag in {"input", "select"} and said.get("name"):
            self.names.add(str(said["name"]))
        if tag == "a" and said.get("href"):
            self.links.add(str(said["href"]).partition("#")[0])


def page_of(client: Client, address: str) -> Names:
    answer = client.get(address, follow=True)
    assert answer.status_code == 200, address
    page = Names()
    page.feed(answer.content.decode())
    return page


@dataclass(frozen=True, kw_only=True, eq=False)
class Asked(Envelope):
    """An envelope that notes which columns of the car the checks ask for."""

    names: set[str] = field(default_factory=set)

    def column(self, name: str) -> Any:
        self.names.add(name)
        return super().column(name)


@pytest.fixture
def owner() -> Person:
    return builders.make_person()


@pytest.fixture
def client(owner: Person, client_of: Callable[[Person], Client]) -> Client:
    return client_of(owner)


def car_with(
    owner: Person, layout: Layout, carrier: FrontCarrier = FrontCarrier.FRONT_WHEELS
) -> Car:
    return register_car(
        CarFacts(
            number="7",
            name="Seven",
            owner=owner,
            race_class=builders.make_class(),
            layout=layout,
            front_carrier=carrier,
        ),
        act=builders.act(owner),
    )


@pytest.mark.parametrize(
    ("layout", "carrier"),
    [
        *((Layout.IN_LINE, carrier) for carrier in FrontCarrier),
        (Layout.SIDEWINDER, FrontCarrier.FRONT_WHEELS),
        (Layout.ANGLEWINDER, FrontCarrier.GUIDE),
    ],
)
def test_every_input_of_every_check_is_entered_on_a_page_of_the_car(
    owner: Person, client: Client, layout: Layout, carrier: FrontCarrier
) -> None:
    # A rule on everything that a rule may speak of and a limit may be set on.
    limited = [
        key
        for key, one in QUANTITIES.items()
        if one.kind not in {Kind.LOOKED_AT, Kind.DECLARED} and one.words is None
    ]
    builders.make_edition(
        [builders.rule(str(n), key, lower=0) for n, key in enumerate(limited, 1)]
    )
    car = car_with(owner, layout, carrier)
    sizes = page_of(client, f"/cars/{car.tag}/sizes")

    # The columns that the checks ask of the car, and those behind the rules.
    (now,) = load_cars(Car.objects.filter(pk=car.pk))
    envelope = now.envelope
    asked = Asked(car=envelope.car, rulebook=envelope.rulebook)
    nothing = garage_table()
    gear_fit(nothing[Gears], asked)
    pinion_fit(nothing[Pinions], asked)
    tyre_fit(nothing[Pairs], asked)
    motor_fit(nothing[Motors], asked)
    columns = asked.names | {
        column for key in limited for column in QUANTITIES[key].columns
    }
    for column in columns - {"layout", "front_carrier"}:
        key, _ = column_owner(column)
        row = QUANTITIES[key]
        if row.only_on not in {None, carrier}:
            continue
        behind = set(readings_behind(key, carrier)) or {column}
        behind -= {"layout", "front_carrier"}
        assert column in sizes.names or behind <= sizes.names, column

    # The room, of which a car in line and one aside need some each.
    asked_of_all = {"slot_low_mm", "slot_high_mm", "axle_room_mm"}
    in_line = {"shaft_to_bearing_mm", "spacers_mm", "shaft_end_mm"}
    in_line |= {"lift_low_mm", "lift_high_mm"}
    not_here = asked_of_all if layout is Layout.IN_LINE else in_line
    assert {one.name for one in fields(Mounting)} - not_here - {"doubts"} <= sizes.names

    # The parts that are on it.
    for table, entered in ENTERED.items():
        names = {one.name for one in fields(table)}
        assert names == entered.keys() | USUAL[table], table
        place = POSITION_OF[table].replace(" ", "-")
        own = page_of(client, f"/cars/{car.tag}/on/{place}/own")
        assert set(entered.values()) <= own.names, table


def garage_table() -> dict[type, Any]:
    """Give one row of each kind of part, of which nothing is known but its teeth."""
    one = np.full(1, np.nan)
    return {
        Gears: Gears(teeth=np.full(1, 27.0)),
        Pinions: Pinions(teeth=np.full(1, 9.0)),
        Pairs: Pairs(left_diameter_mm=one, right_diameter_mm=one),
        Motors: Motors(can_height_mm=one),
    }


@pytest.mark.parametrize("layout", [Layout.IN_LINE, Layout.SIDEWINDER])
def test_what_is_a_parts_is_entered_with_the_part_that_sits_there(
    owner: Person, client: Client, layout: Layout
) -> None:
    car = car_with(owner, layout)
    spur = GearRole.CROWN if layout is Layout.IN_LINE else GearRole.SPUR
    for position, facts in {
        PartPosition.GEAR: GearFacts(role=spur, teeth=27),
        PartPosition.PINION: GearFacts(role=GearRole.PINION, teeth=9),
        PartPosition.MOTOR: MotorFacts(),
        PartPosition.GUIDE: GuideFacts(),
        PartPosition.REAR_LEFT: TyreFacts(),
    }.items():
        part = builders.make_part(facts, owner=owner)
        put_on(car, part, position, act=builders.act(owner))
    sizes = page_of(client, f"/cars/{car.tag}/sizes")
    (now,) = load_cars(Car.objects.filter(pk=car.pk))
    parts = [
        one.need
        for question in questions_of(now)
        for one in question.sizes
        if not one.is_typed
    ]
    assert parts
    for need in parts:
        where = f"/cars/{car.tag}/on/{need.position}/sizes"
        assert where in sizes.links
        names = page_of(client, where).names
        assert need.name in names or f"size_{need.name}" in names


def test_questions_say_how_many_sizes_are_known_and_least_missing_comes_first(
    owner: Person, client: Client
) -> None:
    builders.make_edition(garage.RULES)
    car = car_with(owner, Layout.SIDEWINDER)
    typed = {
        "axle_diameter": "2,38",
        "arch_width_mm": "none",
        "axle_to_bar_mm": "9.2",
        "tyre_diameter_rear_left": "20",
    }
    done = client.post(f"/cars/{car.tag}/sizes", typed, follow=True)
    assert "4 sizes stored." in done.content.decode()
    (now,) = load_cars(Car.objects.filter(pk=car.pk))
    questions = questions_of(now)
    known = {one.title: (one.total, one.known) for one in questions}
    assert known["Tyres"] == (2, 2)
    assert known["A gear on its axle"] == (3, 2)
    assert known["Wear of the tyres"] == (2, 1)
    # What is answered stands last, and of the rest least is missing for each check.
    titles = [one.title for one in questions]
    assert titles[-1] == "Tyres"
    assert titles[0] == "A gear on its axle"
    every = [one.need for question in questions for one in question.sizes]
    assert len(every) == len(set(every))
    words = unescape(client.get(f"/cars/{car.tag}/sizes").content.decode())
    words = " ".join(words.split())
    assert 'name="front_carrier"' not in words
    assert "<b>A gear on its axle</b>: 3 sizes, 2 known" in words
    assert 'href="#id_axle_room_mm"' in words
    # By region, and in each what is known stands last, with what it is.
    behind = words[words.index("Rear axle, seen from behind") :]
    assert behind.index('name="width_rear"') < behind.index('name="axle_diameter"')
    assert "now 2.38" in words
    # Each with its unit; a word has none.
    assert "now 9.2 mm" in words
    assert "now none<" in words
    assert re.findall(r"now [\d.]+<", words) == []
    value = CarValue.objects.current().get(car=car, column="axle_diameter")
    assert (value.value, value.is_declared) == (2_380_000, True)
    assert RoomSize.objects.current().get(car=car, size="arch_width_mm").value is None


def test_size_of_a_part_is_told_with_its_unit(owner: Person, client: Client) -> None:
    gear = garage.gear(36, "18.60", hub="6.00")
    car = garage.make_car(owner=owner, on_car={PartPosition.GEAR: gear})
    words = unescape(client.get(f"/cars/{car.tag}/sizes").content.decode())
    told = dict(re.findall(r"(\w+: [\w ]+): <b>([^<]+)</b>", words))
    assert told["Motor: shaft length"] == "6.00 mm"
    assert [size for size in told.values() if not re.search("[a-z]", size)] == []


@pytest.mark.parametrize(
    ("name", "typed", "expected"),
    [
        ("axle_diameter", "thick", "thick"),
        ("axle_diameter", "23.8", "“23.8” was typed;"),
        ("axle_to_bar_mm", "95", "“95” was typed; 0 to 80 mm was expected"),
        ("arch_width_mm", "wide", "wide"),
    ],
)
def test_size_that_cannot_be_is_refused_and_nothing_is_stored(
    owner: Person, client: Client, name: str, typed: str, expected: str
) -> None:
    car = car_with(owner, Layout.SIDEWINDER)
    said = {"tyre_diameter_rear_left": "20", name: typed}
    page = client.post(f"/cars/{car.tag}/sizes", said)
    assert page.status_code == 422
    words = unescape(page.content.decode())
    assert expected in words
    assert f'value="{typed}"' in words
    assert 'value="20"' in words
    assert not builders.sizes_of_cars().exists()
    assert not RoomSize.objects.exists()


def test_strange_size_is_asked_about_and_kept_when_it_is_said_to_be_right(
    owner: Person, client: Client
) -> None:
    car = car_with(owner, Layout.SIDEWINDER)
    said = {"axle_diameter": "23.8"}
    asked = client.post(f"/cars/{car.tag}/sizes", said)
    assert "Was 2.38 mm meant?" in asked.content.decode()
    assert "The sizes are right as they stand" in asked.content.decode()
    client.post(f"/cars/{car.tag}/sizes", said | {"right": "on"})
    assert builders.sizes_of_cars().get().value == 23_800_000


# What is said of a part where it sits.


def test_owner_says_what_their_pinion_is_and_corrects_it(
    owner: Person, client: Client
) -> None:
    car = car_with(owner, Layout.SIDEWINDER)
    facts = GearFacts(role=GearRole.PINION, teeth=9)
    mine = builders.make_part(facts, owner=owner)
    put_on(car, mine, PartPosition.PINION, act=builders.act(owner))
    where = f"/cars/{car.tag}/on/pinion/sizes"
    said = {"pitch_name": "64 pitch", "size_face_width": "2.0 2.02", "gauge": "0"}
    client.post(where, said)
    mine.gear.refresh_from_db()
    assert mine.gear.pitch_name == "64 pitch"
    face = mine.estimates.current().get(quantity=PartQuantity.FACE_WIDTH)
    assert (face.value, face.count) == (2_010_000, 2)
    assert AuditRow.objects.get(event="part.described").detail["before"] == {
        "pitch_name": ""
    }
    client.post(where, {"pitch_name": "48 pitch", "gauge": "0"})
    mine.gear.refresh_from_db()
    assert mine.gear.pitch_name == "48 pitch"
    assert mine.estimates.current().count() == 1
    wrong = client.post(where, {"size_bore": "wide", "gauge": "0"})
    assert wrong.status_code == 422
    assert "wide" in wrong.content.decode()


def test_of_the_clubs_part_only_what_is_not_known_is_said_by_who_has_it(
    owner: Person, client: Client, client_of: Callable[[Person], Client]
) -> None:
    car = car_with(owner, Layout.SIDEWINDER)
    part = garage.pinion(9, pitch="64 pitch")
    put_on(car, part, PartPosition.PINION, act=builders.act(owner))
    where = f"/cars/{car.tag}/on/pinion/sizes"
    known = client.post(
        where, {"pitch_name": "48 pitch", "size_bore": "1.5", "gauge": "0"}
    )
    assert known.status_code == 422
    words = known.content.decode()
    assert "its bore, pitch name is known: the keeper corrects it" in words
    assert 'value="48 pitch"' in words
    client.post(where, {"pitch_name": "64 pitch", "size_face_width": "2", "gauge": "0"})
    assert part.estimates.current().filter(quantity="face_width").exists()


def test_without_a_part_there_its_own_sizes_are_asked_with_it(
    owner: Person, client: Client
) -> None:
    car = car_with(owner, Layout.SIDEWINDER)
    led = client.get(f"/cars/{car.tag}/on/motor/sizes")
    assert led["Location"] == f"/cars/{car.tag}/on/motor/own"


@pytest.mark.parametrize("layout", [Layout.IN_LINE, Layout.SIDEWINDER])
def test_every_length_of_a_car_is_on_the_drawing_beside_its_field(
    owner: Person, client: Client, layout: Layout
) -> None:
    builders.make_edition(garage.RULES)
    car = car_with(owner, layout)
    page = client.get(f"/cars/{car.tag}/sizes")
    drawn = " ".join(page.context["drawings"])
    lengths = {
        row["field"].name
        for _, rows in page.context["regions"]
        for row in rows
        if row["unit"] == "mm"
    }
    on_it = set(re.findall(r'data-size="([^"]*)"', drawn))
    assert lengths - set(" ".join(on_it).split()) == set()
    assert len(lengths) > 15
