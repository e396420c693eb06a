"""Will it fit, end to end: a car of the club, typed numbers, a gear in the hand."""

import math
from collections.abc import Callable, Sequence
from html import unescape
from typing import Any

import pytest
from django.test import Client

from inspection.compute.night.entries import PartPosition
from inspection.loaders.fit.cars import load_cars
from inspection.loaders.fit.cars_for_part import cars_taking, table_of_part
from inspection.loaders.fit.check_lines import CheckLine, check_lines
from inspection.loaders.fit.stock import set_against
from inspection.models import Car
from inventory.actions.stock import reserve_part
from inventory.compute.roles import Role
from inventory.compute.stock import GearFacts
from inventory.compute.stock.words import GearRole, PartState
from inventory.models import (
    AuditRow,
    Pairing,
    Part,
    PartMove,
    PartSet,
    Person,
    SetMember,
)
from tests import builders
from tests.conftest import QueryGrowth, queries_of
from tests.inspection import garage

pytestmark = pytest.mark.django_db

#: A level sidewinder as in ``garage``, typed.
NUMBERS = {
    "kind": "gear",
    "layout": "sidewinder",
    "tyre": "20",
    "axle": "2.38",
    "gear_clearance": "0.8",
    "pinion_teeth": "9",
    "pinion_pitch": "module 0.5",
    "gear_teeth": "28",
    **garage.ROOM,
}
HAND = {"role": "spur", "teeth": "28", "over": "15.00", "bore": "2.40", "hub": "6"}


@pytest.fixture
def owner(db: None) -> Person:
    builders.make_edition(garage.RULES)
    return builders.make_person(Role.MEMBER, name="Otto Spare")


@pytest.fixture
def car(owner: Person) -> Car:
    return garage.make_car(owner=owner)


@pytest.fixture
def client(owner: Person, client_of: Callable[[Person], Client]) -> Client:
    return client_of(owner)


def text_of(answer: Any) -> str:
    return unescape(str(answer.content.decode()))


def tags(answer: Any) -> list[str]:
    return [line.tags for line in answer.context["lines"]]


def fit(client: Client, car: Car, **more: str) -> Any:
    return client.get("/fit", {"car": car.tag, "kind": "gear"} | more)


def test_gears_come_best_first_as_a_table_worked_by_hand_says(
    client: Client, car: Car
) -> None:
    # The car has 9 : 28, tyres of 20.00 and module 0.5.  By hand: the rules ask a
    # ratio of 2.5 to 4, so 23 to 36 teeth; 9.2 - 0.3 to the bar allows 17.8 over the
    # teeth; the slot of 8.6 to 9.3 holds sums of 34 to 36 teeth, (9 + z) / 4 and a
    # little play; the ground allows 20 - 1.6 = 18.4.
    made = {
        "28, as now": garage.gear(28, "15.00"),
        "26: 8.75 in the slot": garage.gear(26, "14.00"),
        "24: 8.25, too near for the slot": garage.gear(24, "13.00"),
        "34: 10.75, beyond the slot; 18.0 past the bar": garage.gear(34, "18.00"),
        "28 of another pitch": garage.gear(28, "11.91", pitch="64 pitch"),
        "28 on a wide hub": garage.gear(28, "15.00", hub="8.20"),
        "28 bored too wide": garage.gear(28, "15.00", bore="2.46"),
        "28 whose bore nobody took": garage.gear(28, "15.00", bore=""),
    }
    page = fit(client, car)
    found = {line.tags: line for line in page.context["lines"]}
    said = {name: found[part.tag].standing.value for name, part in made.items()}
    assert said == {
        "28, as now": "fits",
        "26: 8.75 in the slot": "fits",
        # At the slot's nearest, 8.6, their teeth stand 0.35 apart: loose.
        "24: 8.25, too near for the slot": "does not fit",
        "34: 10.75, beyond the slot; 18.0 past the bar": "does not fit",
        "28 of another pitch": "does not fit",
        "28 on a wide hub": "does not fit",
        "28 bored too wide": "does not fit",
        "28 whose bore nobody took": "not known",
    }
    order = [made["28, as now"].tag, made["26: 8.75 in the slot"].tag]
    assert tags(page)[:3] == [*order, made["28 whose bore nobody took"].tag]
    changed = found[made["26: 8.75 in the slot"].tag]
    assert changed.ratio == pytest.approx(26 / 9)
    assert changed.rollout_mm == pytest.approx(21.7497, abs=1e-3)  # 20 pi 9 / 26
    assert changed.change_percent == pytest.approx(100 * (28 / 26 - 1))


def test_each_check_has_value_limit_margin_and_sentence(
    client: Client, car: Car
) -> None:
    part = garage.gear(28, "15.00")
    page = fit(client, car, chosen=part.tag)
    rows = {one.row.check.value: one.row for one in page.context["picked"].checks}
    ground, bar = rows["ground"], rows["chassis bar"]
    # 10 - 7.5 over the track, 0.8 asked; 9.2 - 7.5 to the bar, 0.3 asked.
    assert (ground.value, ground.limit, ground.margin) == pytest.approx((2.5, 0.8, 1.7))
    assert (bar.value, bar.limit, bar.margin) == pytest.approx((1.7, 0.3, 1.4))
    words = text_of(page)
    assert "Clearance over the track: 2.50 mm, at least 0.80 mm; 1.70" in words
    assert "<svg" in words
    assert "It clears the track by 2.50 mm." in words
    assert "The largest gear it takes is 17.80 mm over the teeth" in words


def test_tyres_motors_and_pinions_are_found_the_same_way(
    client: Client, car: Car
) -> None:
    near, far = garage.tyre("19.90"), garage.tyre("19.96")
    garage.tyre("18.10")
    page = fit(client, car, kind="tyres")
    assert tags(page) == [f"{near.tag}+{far.tag}"]
    assert page.context["lines"][0].standing == "fits"
    assert "the rules allow rear tyres of" in text_of(page)
    long = garage.motor(length="30.50")
    short = garage.motor()
    page = fit(client, car, kind="motor")
    assert tags(page) == [short.tag, long.tag]
    assert "The can is too long: 30.50 mm, room for 30.00 mm." in text_of(page)
    wrong, right = garage.pinion(9, pitch="48 pitch"), garage.pinion(8)
    page = fit(client, car, kind="pinion")
    assert tags(page) == [right.tag, wrong.tag]


def test_member_with_a_car_is_answered_without_a_question(
    client: Client, car: Car, owner: Person
) -> None:
    garage.make_car(owner=builders.make_person())
    part = garage.gear(26, "14.00", drawer="Left cupboard")
    garage.gear(34, "18.00")
    page = client.get("/fit")
    assert page.context["car"].car == car
    words = " ".join(text_of(page).split())
    # 28 / 26 is 7.7 % further; 10 - 14 / 2 over the track, of which 0.8 is asked.
    assert "Yes: 1 gear fits." in words
    assert "<b>It fits</b>: 26 teeth, rolls 8 % further, clears the track by" in words
    assert "3.00 mm (0.80 needed)." in words
    assert "1 does not fit" in words
    assert f"chosen={part.tag}" not in words
    # The links keep the car, though nobody typed it.
    assert f"?car={car.tag}&kind=tyres" in words
    # And from the label: the part's own page, for the cars of whoever looks.
    words = " ".join(text_of(client.get(f"/parts/{part.tag}")).split())
    assert "<b>It fits</b>: rolls 8 % further, clears the track by 3.00 mm" in words
    assert f"/fit?car={car.tag}&kind=gear&chosen={part.tag}" in words


def test_bag_says_whether_its_pair_fits_my_car(
    client: Client, car: Car, client_of: Callable[[Person], Client]
) -> None:
    tyres = [garage.tyre(size) for size in ("19.90", "19.94")]
    pairing = Pairing.objects.create(made_at=builders.NOW, by=builders.make_admin())
    bag = PartSet.objects.create(tag="B1", kind="tyre", pairing=pairing, spread=40_000)
    for place, part in enumerate(tyres):
        SetMember.objects.create(part_set=bag, part=part, position=place)
    words = " ".join(text_of(client.get("/pairs/B1")).split())
    # 19.92 / 20 is 0.4 % less.
    assert "<b>It fits</b>: rolls as far as now" in words
    assert f"/fit?car={car.tag}&kind=tyres" in words
    others = client_of(builders.make_person()).get("/pairs/B1")
    assert "Does it fit my car?" not in text_of(others)


def test_bagged_pair_is_not_torn_apart(client: Client, car: Car) -> None:
    small, middle, large = (garage.tyre(s) for s in ("19.90", "19.94", "19.98"))
    pairing = Pairing.objects.create(made_at=builders.NOW, by=builders.make_admin())
    bag = PartSet.objects.create(tag="B1", kind="tyre", pairing=pairing, spread=80_000)
    for place, part in enumerate((small, large)):
        SetMember.objects.create(part_set=bag, part=part, position=place)
    assert tags(fit(client, car, kind="tyres")) == [f"{small.tag}+{large.tag}"]
    reserve_part(large, act=builders.act())
    # Half a bag is no pair, and is not mixed with loose tyres.
    assert tags(fit(client, car, kind="tyres")) == []
    assert middle.tag


def test_members_parts_are_theirs_and_reserved_ones_are_gone(
    client: Client, car: Car, owner: Person
) -> None:
    mine = garage.gear(28, "15.00", owner=owner)
    other = builders.make_person()
    garage.gear(28, "15.00", owner=other)
    kept = garage.gear(28, "15.00")
    gone = garage.gear(28, "15.00")
    reserve_part(kept, act=builders.act(owner))
    reserve_part(gone, act=builders.act(other))
    assert sorted(tags(fit(client, car))) == sorted([mine.tag, kept.tag])


def test_car_with_sizes_missing_names_what_to_measure(
    client: Client, owner: Person
) -> None:
    car = garage.make_car(owner=owner, room={}, without=frozenset({"axle_diameter"}))
    garage.gear(28, "15.00")
    page = fit(client, car)
    assert page.context["lines"][0].standing == "not known"
    words = text_of(page)
    for missing in (
        "the gear's bore by pin gauge, and the axle",
        "from the axle's centre to the chassis bar beside the gear",
        "the least distance of shaft and axle in the motor's slot",
    ):
        assert missing in words
    assert f"/cars/{car.tag}/sizes" in words


def test_size_that_decides_most_is_asked_in_place_and_answered(
    client: Client, owner: Person
) -> None:
    room = {k: v for k, v in garage.ROOM.items() if k != "axle_room_mm"}
    car = garage.make_car(owner=owner, room=room)
    for _ in range(3):
        garage.gear(28, "15.00")
    garage.gear(34, "18.00")
    words = " ".join(text_of(fit(client, car)).split())
    # Three wait for this alone; the fourth does not fit, whatever it is.
    assert "Not known yet for 3 gears." in words
    assert "Measure <b>Room on the axle</b> and 3 more can be judged." in words
    assert "1 does not fit" in words
    back = f"/fit?car={car.tag}&kind=gear"
    sent = {"axle_room_mm": "6.5", "back": back}
    page = client.post(f"/cars/{car.tag}/sizes", sent, follow=True)
    assert page.redirect_chain == [(back, 302)]
    assert "Yes: 3 gears fit." in text_of(page)
    sent = {"axle_room_mm": "6.5", "back": "https://elsewhere.example/"}
    page = client.post(f"/cars/{car.tag}/sizes", sent)
    assert page.headers["Location"] == f"/cars/{car.tag}"


def test_empty_drawers_say_so(client: Client, car: Car) -> None:
    assert "Nothing of this kind lies in the drawers." in text_of(fit(client, car))


def test_page_of_nobodys_car_is_refused_with_the_typed_kept(
    client: Client, car: Car
) -> None:
    other = builders.make_car()
    page = fit(client, other)
    assert page.status_code == 422
    assert f"No car is called “{other.tag}”" in text_of(page)


def test_member_without_a_car_is_told_how_to_begin(
    client_of: Callable[[Person], Client],
) -> None:
    page = client_of(builders.make_person()).get("/fit")
    assert "No car of yours yet" in text_of(page)
    assert "/cars/new" in text_of(page)


def test_many_gears_cost_as_many_queries_as_few(
    client: Client, car: Car, same_queries: QueryGrowth
) -> None:
    def add(count: int) -> None:
        for _ in range(count):
            garage.gear(28, "15.00")

    # The edition is read once, by whoever asks first.
    fit(client, car)
    same_queries(lambda: fit(client, car), add, at_most=15)


def test_second_page_goes_on_where_the_first_ended(client: Client, car: Car) -> None:
    for _ in range(21):
        builders.make_part(
            GearFacts(role=GearRole.SPUR, teeth=28, pitch_name="module 0.5")
        )
    first, second = fit(client, car), fit(client, car, page="2")
    assert len(tags(first)) == 20
    assert len(tags(second)) == 1
    assert not set(tags(first)) & set(tags(second))


# --- typed numbers ------------------------------------------------------------


def test_stranger_types_numbers_and_sees_no_owner_and_no_drawer(owner: Person) -> None:
    part = garage.gear(28, "15.00", drawer="Left cupboard")
    mine = garage.gear(28, "15.00", owner=owner, drawer="Otto's box")
    page = Client().get("/fit/numbers", NUMBERS)
    assert page.status_code == 200
    assert tags(page) == [part.tag]
    assert page.context["lines"][0].standing == "fits"
    words = text_of(page)
    for secret in ("cupboard", "Otto", mine.tag, "Reserve", "/parts/"):
        assert secret not in words
    assert "Clearance over the track: 2.50 mm" in words


def test_stranger_is_asked_for_no_account(owner: Person) -> None:
    garage.make_car(owner=owner)
    page = Client().get("/fit")
    assert page.status_code == 200
    assert "No account is needed" in text_of(page)
    assert "Otto" not in text_of(page)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"tyre": ""}, "This field is required"),
        (
            {"tyre": "2.0"},
            "“2.0” was typed; 14 to 32 mm was expected. Was 20 mm meant?",
        ),
        ({"tyre": "twenty"}, "twenty"),
        ({"pinion_teeth": "0"}, "“0” was typed; a whole number of teeth, 4 to 60"),
        ({"gear_teeth": "2000"}, "“2000” was typed; a whole number of teeth, 4 to 400"),
        ({"axle_to_bar_mm": "900"}, "“900” was typed; 0 to 80 mm was expected"),
        ({"layout": "sideways"}, "sideways is not one of the available choices"),
    ],
)
def test_typed_number_that_cannot_be_is_refused_and_kept(
    typed: dict[str, str], said: str
) -> None:
    page = Client().get("/fit/numbers", NUMBERS | typed)
    assert page.status_code == 422
    assert said in text_of(page)
    kept = next(iter(typed.values()))
    assert f'value="{kept}"' in page.content.decode() or kept in {"", "sideways"}


def test_pinion_larger_than_the_gear_is_told_so() -> None:
    garage.gear(28, "15.00")
    page = Client().get("/fit/numbers", NUMBERS | {"pinion_teeth": "30"})
    assert "Teeth of the gear: 28 teeth, at least 30 teeth; 2 teeth outside." in (
        text_of(page)
    )
    assert page.context["lines"][0].standing == "does not fit"


def test_ten_pairs_are_shown_and_each_tyre_once(client: Client, car: Car) -> None:
    tyres = [garage.tyre(f"20.{size:02}") for size in range(24)]
    page = fit(client, car, kind="tyres")
    pairs = [tuple(one.split("+")) for one in tags(page)]
    assert len(pairs) == len(page.context["answer"]) == 10
    # Each two neighbours in size might be a pair, so that a tyre might stand in two.
    assert len({tag for pair in pairs for tag in pair}) == 20
    size = {tyre.tag: number for number, tyre in enumerate(tyres)}
    assert all(abs(size[left] - size[right]) == 1 for left, right in pairs)
    assert "no tyre stands in two of them" in text_of(page)


def test_typed_car_takes_tyres_by_the_gear_that_is_on_it() -> None:
    tyres = garage.tyre("16.50"), garage.tyre("16.55")
    numbers = NUMBERS | {"kind": "tyres", "gear_mm": "15.00", "arch_width_mm": "none"}
    page = Client().get("/fit/numbers", numbers)
    # 16.5 / 2 - 7.5 = 0.75, and 0.8 is asked.
    assert "Gear to track: 0.75 mm, at least 0.80 mm; 0.05 mm outside" in text_of(page)
    assert tags(page) == ["+".join(part.tag for part in tyres)]
    # Without a gear there is nothing under which a gap could be asked.
    page = Client().get("/fit/numbers", numbers | {"gear_mm": ""})
    assert page.context["lines"][0].standing == "fits"


def test_gear_in_the_hand_comes_first_and_has_no_tag(client: Client, car: Car) -> None:
    garage.gear(28, "15.00")
    page = fit(client, car, **HAND, pitch="module 0.5")
    assert page.context["picked"].parts == ()
    assert page.context["picked"].standing == "fits"
    assert "The gear in your hand" in text_of(page)
    page = fit(client, car, **HAND | {"teeth": "3"})
    assert page.status_code == 422
    assert "“3” was typed; a whole number of teeth, 4 to 400" in text_of(page)


def test_pinion_in_the_hand_is_set_against_the_shaft(client: Client, car: Car) -> None:
    # Its width is its length on the shaft, of which 6 are bare.
    hand = HAND | {"role": "pinion", "teeth": "8", "over": "5.00", "bore": "1.48"}
    page = fit(client, car, **hand, fixing="press", pitch="module 0.5")
    assert page.context["kind"] == "pinion"
    assert page.context["picked"].standing == "fits"


def test_way_that_is_none_is_not_found() -> None:
    assert Client().get("/fit/elsewhere").status_code == 404


# --- reserve ------------------------------------------------------------------


def reserve(client: Client, wanted: str, back: str = "") -> Any:
    typed = {"tags": wanted, "back": back}
    return client.post("/fit/reserve", typed, follow=True)


def test_result_is_reserved_and_leads_back(
    client: Client, car: Car, owner: Person
) -> None:
    part = garage.gear(28, "15.00")
    back = f"/fit?car={car.tag}&kind=gear&chosen={part.tag}"
    assert "Reserve for me" in text_of(client.get(back))
    page = reserve(client, part.tag, back)
    assert page.redirect_chain[-1][0] == back
    assert f"Reserved for you: {part.tag}." in text_of(page)
    part.refresh_from_db()
    assert (part.state, part.holder) == (PartState.RESERVED, owner)
    # What is kept for oneself is still shown, and not offered again.
    assert tags(page) == [part.tag]
    assert "Reserve for me" not in text_of(page)


def test_part_that_somebody_has_just_taken_is_told_and_nothing_written(
    client: Client, car: Car
) -> None:
    first, second = garage.tyre("19.90"), garage.tyre("19.94")
    reserve_part(second, act=builders.act(builders.make_person()))
    before = PartMove.objects.count(), AuditRow.objects.count()
    page = reserve(client, f"{first.tag}+{second.tag}")
    assert f"Not reserved. Part {second.tag} is “reserved”" in text_of(page)
    assert (PartMove.objects.count(), AuditRow.objects.count()) == before
    assert Part.objects.get(pk=first.pk).state == PartState.IN_STOCK


@pytest.mark.parametrize("wanted", ["", "G9X9X9"])
def test_nothing_or_no_such_part_is_refused(client: Client, wanted: str) -> None:
    assert "Not reserved." in text_of(reserve(client, wanted))


def test_reserving_leads_to_no_other_site(client: Client) -> None:
    part = garage.gear(28, "15.00")
    answer: Any = client.post(
        "/fit/reserve", {"tags": part.tag, "back": "https://elsewhere.example/"}
    )
    assert answer["Location"] == "/fit"


# --- the unmarked gear --------------------------------------------------------


def unmarked(client: Client, **typed: str) -> Any:
    return client.get("/fit/unmarked-gear", HAND | typed)


def test_nine_teeth_are_told_to_be_ambiguous() -> None:
    # 11 x 25.4 / 64 = 4.366 and 11 x 0.4 = 4.400: 0.034 apart, less than a reading and
    # a cutting allowance of 0.03 can tell; two thirds to one third.
    page = unmarked(Client(), teeth="9", over="4.24")
    words = " ".join(text_of(page).split())
    assert "64 pitch or module 0.4: roll it against a known one." in words
    assert "Flat jaws over 9 teeth read short" in words


def test_twenty_eight_teeth_are_sure() -> None:
    # 30 x 25.4 / 64 = 11.906 and 30 x 0.4 = 12.000; all others are far away.
    width = math.hypot(0.01 / math.sqrt(12), 0.02 / math.sqrt(3), 0.03)
    near, far = ((11.91 - size) / width for size in (30 * 25.4 / 64, 12.0))
    page = unmarked(Client(), over="11.91")
    first = page.context["unmarked"].candidates[0]
    assert first.name == "64 pitch"
    assert first.probability == pytest.approx(
        1 / (1 + math.exp((near**2 - far**2) / 2)), abs=1e-6
    )
    assert "roll it against" not in text_of(page)


def test_size_that_no_pitch_explains_is_told_with_the_nearest() -> None:
    # 30 teeth over 14.2 is module 0.473; module 0.5 would be 15.00.
    page = unmarked(Client(), over="14.20")
    words = " ".join(text_of(page).split())
    assert "No standard pitch explains 14.20 mm with 28 teeth" in words
    assert "the effective module is 0.473 mm" in words
    assert "The nearest, module 0.5, would measure 15.00 mm" in words


def test_crown_is_not_told_by_its_size() -> None:
    page = unmarked(Client(), role="crown")
    assert "A crown's outside diameter says nothing of its teeth" in text_of(page)


@pytest.mark.parametrize("teeth", ["0", "3", "2000", "2.5", "many", ""])
def test_teeth_that_no_gear_has_are_refused_and_kept(teeth: str) -> None:
    page = unmarked(Client(), teeth=teeth)
    assert page.status_code == 422
    if teeth:
        assert f"“{teeth}” was typed; a whole number of teeth, 4 to 400" in (
            text_of(page)
        )
        assert f'value="{teeth}"' in page.content.decode()


def test_unmarked_gear_leads_to_the_cars_and_the_drawers(
    client: Client, car: Car
) -> None:
    same = garage.gear(28, "15.02")
    bare = builders.make_part(GearFacts(role=GearRole.SPUR, teeth=28))
    garage.gear(28, "11.91", pitch="64 pitch")
    page = unmarked(client)
    (line,) = page.context["lines"]
    assert (line.car, line.pitch, line.standing) == (car, "module 0.5", "fits")
    assert [part.tag for part in page.context["alike"]] == [same.tag, bare.tag]
    assert f"?car={car.tag}&kind=gear&role=spur&teeth=28" in text_of(page)


def test_ambiguous_gear_is_set_against_the_car_at_each_pitch(
    client: Client, owner: Person
) -> None:
    pinion = garage.pinion(12, pitch="64 pitch", owner=owner)
    room = garage.ROOM | {"slot_low_mm": "4.0", "slot_high_mm": "5.0"}
    car = garage.make_car(owner=owner, room=room, on_car={PartPosition.PINION: pinion})
    # (12 + 12) x 25.4 / 64 / 2 = 4.76, in the slot; and the pinion is 64 pitch.
    page = unmarked(client, teeth="12", over="5.57")
    (line,) = page.context["lines"]
    assert len(page.context["pitches"]) == 2
    assert (line.car, line.pitch) == (car, "64 pitch")


def test_stranger_with_an_unmarked_gear_goes_on_to_typed_numbers() -> None:
    page = unmarked(Client())
    assert "/fit/numbers?role=spur&teeth=28&over=15.00" in text_of(page)
    carried = Client().get("/fit/numbers", HAND | {"pitch": "module 0.5"})
    assert 'value="15.00"' in carried.content.decode()
    both = Client().get("/fit/numbers", NUMBERS | HAND | {"pitch": "module 0.5"})
    assert both.context["picked"].standing == "fits"


# --- from the part ------------------------------------------------------------


@pytest.mark.parametrize("kind", ["gear", "pinion", "tyre", "motor"])
def test_part_shows_the_cars_that_take_it(
    client: Client, car: Car, owner: Person, kind: str
) -> None:
    made: dict[str, Callable[[], Part]] = {
        "gear": lambda: garage.gear(28, "15.00"),
        "pinion": lambda: garage.pinion(9),
        "tyre": lambda: garage.tyre("19.90"),
        "motor": garage.motor,
    }
    part = made[kind]()
    builders.make_car()
    page = client.get(f"/parts/{part.tag}/cars")
    (line,) = page.context["lines"]
    assert (line.car, line.standing) == (car, "fits")
    assert "<html" in text_of(page)
    piece = client.get(f"/parts/{part.tag}/cars", headers={"HX-Request": "true"})
    assert "<html" not in text_of(piece)
    assert car.name in text_of(piece)
    hook = client.get(f"/parts/{part.tag}").content.decode()
    assert f'hx-get="/parts/{part.tag}/cars"' in hook


def test_cars_that_take_a_part_come_first(
    client_of: Callable[[Person], Client], car: Car, owner: Person
) -> None:
    small = garage.make_car(owner=owner, room=garage.ROOM | {"axle_room_mm": "5"})
    bare = garage.make_car(owner=owner, room={})
    part = garage.gear(28, "15.00")
    scrutineer = client_of(builders.make_scrutineer())
    lines = scrutineer.get(f"/parts/{part.tag}/cars").context["lines"]
    assert [(line.car, line.standing.value) for line in lines] == [
        (car, "fits"),
        (bare, "not known"),
        (small, "does not fit"),
    ]


#: Some rules are of one class: a car's own are then not all of the edition's.
CLASS_RULES = (
    builders.rule("1", "weight_car", lower=80, classes=("Prototype",)),
    builders.rule("2", "clearance_gear", lower=0.8),
    builders.rule("3", "tyre_diameter_rear", lower=19.95, classes=("Saloon",)),
    builders.rule("4", "can_height", upper=15.0, classes=("Saloon",)),
    builders.rule("5", "tyre_diameter_rear", lower=10),
)


@pytest.mark.parametrize("kind", ["gear", "pinion", "tyre", "motor"])
def test_car_among_others_gets_the_same_answer_as_alone(
    owner: Person, kind: str
) -> None:
    other = builders.make_class("Prototype")
    cars = [
        garage.make_car(owner=owner),
        garage.make_car(owner=owner, room={}),
        garage.make_car(owner=owner, without=frozenset({"width_rear"})),
        garage.make_car(owner=owner, without=frozenset({"wheelbase_left"})),
        builders.make_car(owner=owner),
    ]
    Car.objects.filter(pk=cars[0].pk).update(race_class=other)
    builders.make_edition(CLASS_RULES)
    known = load_cars(Car.objects.all())
    made: dict[str, Callable[[], Part]] = {
        "gear": lambda: garage.gear(28, "15.00"),
        "pinion": lambda: garage.pinion(9),
        "tyre": lambda: garage.tyre("19.90"),
        "motor": garage.motor,
    }
    table = table_of_part(made[kind]())
    together = {line.car.pk: line for line in cars_taking(table, known)}
    for car in known:
        (alone,) = cars_taking(table, [car])
        among = together[car.car.pk]
        assert (among.standing, among.rollout_mm) == (alone.standing, alone.rollout_mm)
        by_itself = set_against(table, car.envelope).rows(0)
        assert said(among.checks) == said(check_lines(by_itself, car.rules))


def said(checks: Sequence[CheckLine]) -> list[tuple[str, str]]:
    return [(one.sentence, one.rule.number if one.rule else "") for one in checks]


def test_many_cars_cost_as_many_queries_as_few(
    client_of: Callable[[Person], Client], owner: Person
) -> None:
    part, client = garage.gear(28, "15.00"), client_of(builders.make_scrutineer())

    def visit() -> None:
        assert client.get(f"/parts/{part.tag}/cars").status_code == 200

    for _ in range(3):
        builders.make_car(owner=owner)
    visit()
    few = len(queries_of(visit))
    for _ in range(27):
        builders.make_car(owner=owner)
    assert len(queries_of(visit)) == few <= 15
