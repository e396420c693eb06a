"""A member's question in a member's words: teeth, a crown, why not, what is missing."""

from collections.abc import Callable
from dataclasses import replace
from html import unescape
from typing import Any

import pytest
from django.test import Client

from inspection.compute.fit import Check, CheckRow, CheckState, ToMeasure
from inspection.compute.night import PartPosition
from inspection.compute.quantities import Layout
from inspection.models import Car
from inspection.words.fit import check_words
from inspection.words.not_fitting import plain_words
from inventory.compute.stock import GearFacts, GearRole, PartQuantity
from inventory.models import Person
from tests import builders
from tests.inspection import garage

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner() -> Person:
    return builders.make_person()


@pytest.fixture
def car(owner: Person) -> Car:
    builders.make_edition(garage.RULES)
    return garage.make_car(owner=owner)


@pytest.fixture
def client(owner: Person, client_of: Callable[[Person], Client]) -> Client:
    return client_of(owner)


def text_of(answer: Any) -> str:
    return " ".join(unescape(str(answer.content.decode())).split())


def fit(client: Client, car: Car, **more: str) -> Any:
    return client.get("/fit", {"car": car.tag, "kind": "gear"} | more)


def test_limit_that_nobody_wrote_has_no_more_places_than_it_takes() -> None:
    # A quarter of the module of 64 pitch, 25.4/64 mm, is 0.09921875 mm.
    row = CheckRow(
        check=Check.MESH,
        state=CheckState.HOLDS,
        value=0.03,
        lower=0.02,
        upper=0.099219,
        margin=0.01,
        unit="mm",
        to_measure=ToMeasure(check=Check.MESH),
        quantity="",
        u=0.0,
    )
    assert "0.03 mm, 0.02 to 0.10 mm wanted" in check_words(row)
    # One that somebody wrote stands as it was written: 3/64 inch.
    written = replace(row, check=Check.BORE, upper=1.190625)
    assert "0.02 to 1.190625 mm wanted" in check_words(written)


def test_teeth_that_are_wanted_stand_first_or_the_nearest_are_told(
    client: Client, car: Car
) -> None:
    garage.gear(28, "15.00")
    near = garage.gear(31, "16.50")
    page = fit(client, car, wanted="31")
    assert page.context["lines"][0].parts[0] == near
    assert "Those with 31 teeth stand first." in text_of(page)
    page = fit(client, car, wanted="30")
    assert page.context["lines"][0].parts[0] == near
    assert "None with 30 teeth is to be had; the nearest have 31." in text_of(page)
    wrong = fit(client, car, wanted="many")
    assert wrong.status_code == 422
    assert "“many” was typed; a whole number of teeth" in text_of(wrong)


def test_failures_stand_in_plain_words_apart_from_what_nobody_measured(
    client: Client, car: Car
) -> None:
    other = garage.gear(28, "11.91", pitch="64 pitch", bore="")
    page = fit(client, car)
    (line,) = page.context["lines"]
    assert line.parts[0] == other
    failed = [one.row.check for one in line.amiss.failed]
    assert Check.PITCH in failed
    assert [one.row.check for one in line.amiss.unmeasured] == [Check.BORE]
    words = text_of(page)
    assert (
        "Wrong pitch: this is 64, your pinion module 0.5; they cannot run together."
        in words
    )
    assert "Not measured: bore" in words


def test_pinion_of_another_pitch_is_told_against_the_gear(
    client: Client, car: Car
) -> None:
    garage.pinion(9, pitch="48 pitch")
    words = text_of(fit(client, car, kind="pinion"))
    assert "Wrong pitch: this is 48, your gear module 0.5;" in words


def test_missing_sizes_are_links_to_their_fields(client: Client, owner: Person) -> None:
    builders.make_edition(garage.RULES)
    bare = garage.make_car(
        owner=owner, room={"axle_room_mm": "8"}, without=frozenset({"axle_diameter"})
    )
    garage.gear(28, "15.00", bore="")
    page = fit(client, bare)
    missing = {one.label: one.to for one in page.context["missing"]}
    sizes = f"/cars/{bare.tag}/sizes"
    assert missing["Axle diameter"] == f"{sizes}#id_axle_diameter"
    assert missing["Axle to chassis bar"] == f"{sizes}#id_axle_to_bar_mm"
    assert missing["Bore of 1 part"] == ""
    # What is known is not asked for.
    assert "Room on the axle" not in missing
    fields = client.get(sizes).content.decode()
    for to in missing.values():
        if to.startswith(f"{sizes}#"):
            assert f'id="{to.partition("#")[2]}"' in fields


def test_what_was_just_typed_is_not_asked_for() -> None:
    typed = {"layout": "sidewinder", "tyre": "20", "kind": "gear"}
    hand = {"role": "spur", "teeth": "28", "over": "15.00", "fixing": "screw"}
    before = Client().get("/fit/numbers", typed | hand)
    labels = {one.label: one.to for one in before.context["missing"]}
    assert labels["Bore of the gear in your hand"] == "#id_bore"
    assert labels["Axle diameter"] == "#id_axle"
    assert labels["Pinion on the car: pitch"] == "#id_pinion_pitch"
    page = before.content.decode()
    for to in filter(None, labels.values()):
        assert f'id="{to[1:]}"' in page
    more = {"bore": "2.40", "axle": "2.38", "pinion_pitch": "module 0.5"}
    after = Client().get("/fit/numbers", typed | hand | more)
    left = {one.label for one in after.context["missing"]}
    assert not left & {
        "Bore of the gear in your hand",
        "Axle diameter",
        "Pinion on the car: pitch",
    }


def test_left_empty_is_never_said_to_hold_by_nothing() -> None:
    typed = {"layout": "sidewinder", "tyre": "20", "kind": "gear"}
    hand = {"role": "spur", "teeth": "28", "over": "15.00", "fixing": "screw"}
    words = text_of(Client().get("/fit/numbers", typed | hand))
    assert "at least 0.00" not in words
    assert "no least gap is asked for, so it is not checked" in words


def test_unmarked_crown_goes_on_to_the_cars_and_the_drawers(
    client: Client, owner: Person
) -> None:
    builders.make_edition(garage.RULES)
    car = builders.make_car(owner=owner, layout=Layout.IN_LINE)
    other = builders.make_car(owner=owner, layout=Layout.SIDEWINDER)
    alike = builders.make_part(GearFacts(role=GearRole.CROWN, teeth=27))
    garage.measured(alike, {PartQuantity.GEAR_DIAMETER: "17.00"})
    crown = {"role": "crown", "teeth": "27", "over": "17.00", "fixing": "screw"}
    page = client.get("/fit/unmarked-gear", crown)
    words = text_of(page)
    assert "A crown's outside diameter says nothing of its teeth" in words
    assert alike.tag in words
    lines = {line.car: line for line in page.context["lines"]}
    assert lines[car].standing == "not known"
    assert lines[other].standing == "does not fit"
    assert "This is a crown; the car needs a spur." in words
    # With the pitch that was found by rolling it, it is told by its pitch.
    told = client.get("/fit/unmarked-gear", crown | {"pitch": "64 pitch"})
    assert told.context["pitches"] == ["64 pitch"]


def test_list_of_cars_it_fits_holds_cars_that_it_fits(
    client: Client, car: Car, owner: Person
) -> None:
    part = garage.gear(28, "15.00")
    garage.make_car(owner=owner, room={})
    in_line = builders.make_car(owner=owner, layout=Layout.IN_LINE)
    page = client.get(f"/parts/{part.tag}/cars")
    assert [line.car for line in page.context["fitting"]] == [car]
    assert in_line in [line.car for line in page.context["refused"]]
    assert len(page.context["open_lines"]) == 1
    words = text_of(page)
    fits, rest = words.split("Not known yet")
    assert car.name in fits.split("Cars it fits")[1]
    assert in_line.name in rest.split("It does not fit")[1]


def row(check: Check, value: float, lower: float, upper: float) -> CheckRow:
    return CheckRow(
        check=check,
        state=CheckState.FAILS,
        value=value,
        lower=lower,
        upper=upper,
        margin=min(value - lower, upper - value),
        unit="teeth" if check in {Check.TEETH, Check.CROWN_CUT} else "mm",
        to_measure=ToMeasure(check=check),
        quantity="clearance_gear" if check is Check.RULE else "",
    )


@pytest.mark.parametrize("check", Check)
@pytest.mark.parametrize("value", [1.0, 9.0])
def test_every_failure_has_words_without_gaps(check: Check, value: float) -> None:
    said = plain_words(row(check, value, 3.0, 5.0))
    assert said.endswith(".")
    assert "{" not in said
    assert "nan" not in said


@pytest.mark.parametrize(
    ("check", "value", "said"),
    [
        (Check.BORE, 5.3, "Bore too large by 0.30 mm: it sits loose on the shaft."),
        (Check.BORE, 2.8, "Bore too small by 0.20 mm: it does not go on the shaft."),
        (
            Check.GROUND,
            2.5,
            "Too large for the ground: 2.50 mm over the track, 3.00 mm is asked.",
        ),
        (Check.TEETH, 7.0, "Too many teeth: 7 teeth; at most 5 teeth are allowed."),
        (Check.LIFT, 5.4, "The motor would have to sit 0.40 mm higher than it can."),
    ],
)
def test_failure_says_what_is_wrong(check: Check, value: float, said: str) -> None:
    assert plain_words(row(check, value, 3.0, 5.0)) == said


def test_gear_that_would_touch_the_track_is_told_so() -> None:
    low = row(Check.GROUND, -0.25, 0.0, float("inf"))
    assert plain_words(low) == (
        "Too large for the ground: it would touch the track, 0.25 mm deep."
    )


def test_what_holds_keeps_its_own_sentence() -> None:
    held = CheckRow(
        check=Check.BORE,
        state=CheckState.HOLDS,
        value=0.0,
        lower=0.0,
        upper=1.0,
        margin=0.0,
        unit="mm",
        to_measure=ToMeasure(check=Check.BORE),
    )
    assert plain_words(held) == (
        "Bore over shaft: 0.00 mm, 0.00 to 1.00 mm wanted; 0.00 mm to spare."
    )


@pytest.mark.parametrize(
    ("kind", "name"), [("motor", "Motor bay, height"), ("tyres", "Wheel arch")]
)
def test_motors_and_tyres_name_what_they_lack_too(
    client: Client, owner: Person, kind: str, name: str
) -> None:
    builders.make_edition(garage.RULES)
    bare = garage.make_car(owner=owner, room={})
    garage.motor()
    garage.tyre("19.90"), garage.tyre("19.96")
    page = fit(client, bare, kind=kind)
    assert name in {one.label for one in page.context["missing"]}


def test_pinion_names_the_motor_shaft_as_a_link_to_its_part(
    client: Client, owner: Person
) -> None:
    builders.make_edition(garage.RULES)
    bare = builders.make_car(owner=owner, layout=Layout.SIDEWINDER)
    garage.pinion(9)
    page = fit(client, bare, kind="pinion")
    missing = {one.label: one.to for one in page.context["missing"]}
    place = f"/cars/{bare.tag}/on/{PartPosition.MOTOR}/sizes#shaft_diameter"
    assert missing["Motor on the car: shaft diameter"] == place
