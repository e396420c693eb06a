"""What is on a car: who puts what on, where what comes off goes, and when."""

import datetime as dt
from http import HTTPStatus

import pytest
from django.test import Client
from django.utils import timezone

from inspection.actions.fit.on_car import (
    may_change_parts,
    put_on,
    put_pair_on,
    swap_sides,
    take_off,
)
from inspection.compute.night import Axle, PartPosition
from inspection.compute.quantities import Layout
from inspection.loaders.cars.on_car import (
    load_places,
    pairs_for,
    parts_for,
    positions_for,
)
from inspection.models import Car, FittedPart
from inventory.actions.pairing import NewPairing, NewSet, confirm_pairing, split_set
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import hand_out_part, reserve_part, retire_part
from inventory.compute.roles import Role
from inventory.compute.stock import (
    GearFacts,
    GearRole,
    Move,
    PartQuantity,
    PartState,
    TyreFacts,
)
from inventory.models import AuditRow, Part, PartMove, PartSet, Person
from tests import builders
from tests.inspection import garage

pytestmark = pytest.mark.django_db

LEFT, RIGHT = PartPosition.REAR_LEFT, PartPosition.REAR_RIGHT


@pytest.fixture
def owner() -> Person:
    return builders.make_person()


@pytest.fixture
def car(owner: Person) -> Car:
    return builders.make_car(owner=owner)


@pytest.fixture
def tyre() -> Part:
    return builders.make_part(TyreFacts(compound="soft"), drawer="T1")


def keeper() -> Person:
    return builders.make_person(Role.PARTS_KEEPER)


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def now(part: Part) -> Part:
    return Part.objects.get(pk=part.pk)


def refused(action: object, *args: object, **said: object) -> RefusedError:
    with pytest.raises(RefusedError) as refusal:
        action(*args, **said)  # type: ignore[operator]
    return refusal.value


def make_pair(*parts: Part) -> PartSet:
    new = NewPairing(sets=[NewSet(part_ids=[one.pk for one in parts], spread=0)])
    return confirm_pairing(new, act=builders.act(keeper())).sets.get()


def test_member_puts_a_part_of_the_stock_on_and_it_stays_with_them_when_off(
    car: Car, owner: Person, tyre: Part
) -> None:
    put_on(car, tyre, LEFT, act=builders.act(owner))
    assert now(tyre).state == PartState.ON_CAR
    take_off(car, LEFT, act=builders.act(owner), to_drawer=True)
    # A member has no key to the drawers, whatever they say.
    assert (now(tyre).state, now(tyre).holder) == (PartState.WITH_MEMBER, owner)
    put_on(car, now(tyre), RIGHT, act=builders.act(owner))
    moves = PartMove.objects.filter(part=tyre).order_by("id")
    assert [one.move for one in moves] == [
        Move.RECEIVE,
        Move.FIT,
        Move.TAKE_OFF,
        Move.FIT,
    ]
    assert [one.note for one in moves][1:] == [
        f"car {car.number}, rear left",
        f"car {car.number}, rear left",
        f"car {car.number}, rear right",
    ]


def test_keeper_takes_off_into_the_drawer_or_leaves_it_with_the_owner(
    car: Car, owner: Person, tyre: Part
) -> None:
    someone = keeper()
    put_on(car, tyre, LEFT, act=builders.act(someone))
    take_off(car, LEFT, act=builders.act(someone), to_drawer=True)
    assert (now(tyre).state, now(tyre).holder) == (PartState.IN_STOCK, None)
    put_on(car, now(tyre), LEFT, act=builders.act(someone))
    take_off(car, LEFT, act=builders.act(someone))
    assert (now(tyre).state, now(tyre).holder) == (PartState.WITH_MEMBER, owner)


def test_what_is_replaced_goes_where_who_changes_it_would_put_it(
    car: Car, owner: Person, tyre: Part
) -> None:
    second, third = builders.make_part(), builders.make_part()
    put_on(car, tyre, LEFT, act=builders.act(owner))
    put_on(car, second, LEFT, act=builders.act(owner))
    assert now(tyre).state == PartState.WITH_MEMBER
    put_on(car, third, LEFT, act=builders.act(keeper()))
    assert now(second).state == PartState.IN_STOCK
    assert FittedPart.objects.get(removed_at=None).part == third


def test_own_part_goes_back_to_its_owners_parts(car: Car, owner: Person) -> None:
    mine = builders.make_part(TyreFacts(), owner=owner)
    put_on(car, mine, LEFT, act=builders.act(owner))
    take_off(car, LEFT, act=builders.act(owner))
    assert (now(mine).state, now(mine).owner) == (PartState.IN_STOCK, owner)


@pytest.mark.parametrize("whose", ["the club's", "another member's"])
def test_borrower_puts_what_was_handed_out_to_them_on_their_car(
    car: Car,
    owner: Person,
    whose: str,
) -> None:
    other = None if whose == "the club's" else builders.make_person()
    lent = builders.make_part(TyreFacts(), owner=other)
    hand_out_part(lent, owner, act=builders.act(keeper()))
    client = client_of(owner)
    offered = client.get(f"/cars/{car.tag}/on/rear-left").content.decode()
    assert f'value="{lent.tag}"' in offered
    said = {"car": car.tag, "place": "rear left", "since": ""}
    assert client.post(f"/parts/{lent.tag}/onto", said).status_code == 302
    assert now(lent).state == PartState.ON_CAR
    # Taken off it is with them still: it is neither theirs nor in its drawer.
    take_off(car, LEFT, act=builders.act(owner))
    assert (now(lent).state, now(lent).holder) == (PartState.WITH_MEMBER, owner)


def test_another_member_changes_nothing_on_it(car: Car, tyre: Part) -> None:
    other = builders.make_person()
    assert not may_change_parts(car, other)
    said = refused(put_on, car, tyre, LEFT, act=builders.act(other))
    assert said.code == "not_your_car"
    assert now(tyre).state == PartState.IN_STOCK
    assert not FittedPart.objects.exists()


def test_parts_of_others_are_not_to_be_had(car: Car, owner: Person) -> None:
    other = builders.make_person()
    theirs = builders.make_part(TyreFacts(), owner=other)
    reserved, out, gone, sits = (builders.make_part() for _ in range(4))
    reserve_part(reserved, act=builders.act(other))
    hand_out_part(out, other, act=builders.act())
    retire_part(gone, reason="cut", act=builders.act())
    elsewhere = builders.make_car()
    builders.fit(elsewhere, sits, RIGHT)
    words = {
        theirs: f"{other}'s own",
        reserved: f"reserved for {other}",
        out: f"with {other}",
        gone: "retired",
        sits: f"sits on car {elsewhere.number}, rear right; take it off there first",
    }
    for part, why in words.items():
        said = refused(put_on, car, now(part), LEFT, act=builders.act(owner))
        assert why in said.sentence
        assert said.field == "part"
    assert not parts_for(car, LEFT, owner).exists()
    assert not FittedPart.objects.filter(car=car).exists()


def test_part_goes_only_where_its_kind_goes(car: Car, owner: Person) -> None:
    gear, pinion = garage.gear(36, "18.00"), garage.pinion(11)
    assert "a tyre goes there" in (
        refused(put_on, car, gear, LEFT, act=builders.act(owner)).sentence
    )
    said = refused(put_on, car, pinion, PartPosition.GEAR, act=builders.act(owner))
    assert "a pinion; a spur or a crown goes there (gear)" in said.sentence
    assert positions_for(gear) == [PartPosition.GEAR]
    assert positions_for(pinion) == [PartPosition.PINION]
    assert {part.pk for part in parts_for(car, PartPosition.PINION, owner)} == {
        pinion.pk
    }


def test_nothing_changes_while_the_car_is_on_the_block(
    car: Car, owner: Person, tyre: Part
) -> None:
    scrutineer = builders.make_scrutineer()
    sheet = builders.make_sheet(entry=builders.make_entry(car=car))
    said = refused(put_on, car, tyre, LEFT, act=builders.act(scrutineer, minutes=5))
    assert said.code == "on_the_block"
    assert sheet.number in said.sentence


def test_day_since_when_it_sits_there(car: Car, owner: Person, tyre: Part) -> None:
    act = builders.act(owner)
    day = act.at - dt.timedelta(days=9)
    put_on(car, tyre, LEFT, act=act, since=day)
    assert FittedPart.objects.get().fitted_at == day
    second = builders.make_part()
    early = refused(
        put_on, car, second, LEFT, act=act, since=day - dt.timedelta(days=1)
    )
    assert (early.code, early.field) == ("since_before_last", "since")
    late = refused(put_on, car, second, LEFT, act=act, since=act.at + dt.timedelta(1))
    assert late.code == "since_to_come"
    later = day + dt.timedelta(days=2)
    put_on(car, second, LEFT, act=act, since=later)
    rows = FittedPart.objects.order_by("fitted_at")
    assert [(one.fitted_at, one.removed_at) for one in rows] == [
        (day, later),
        (later, None),
    ]


def test_no_day_before_a_sheet_that_says_what_sat_there(
    car: Car, owner: Person, tyre: Part
) -> None:
    sheet = builders.make_sheet(entry=builders.make_entry(car=car))
    builders.send_back(sheet.number, act=builders.act(minutes=60))
    said = refused(
        put_on,
        car,
        tyre,
        LEFT,
        act=builders.act(owner, minutes=90),
        since=sheet.started_at - dt.timedelta(hours=1),
    )
    assert said.code == "since_before_sheet"
    assert sheet.number in said.sentence


def test_left_and_right_are_swapped(car: Car, owner: Person, tyre: Part) -> None:
    other = builders.make_part()
    put_on(car, tyre, LEFT, act=builders.act(owner))
    assert (
        refused(swap_sides, car, Axle.REAR, act=builders.act(owner)).code == "not_two"
    )
    put_on(car, other, RIGHT, act=builders.act(owner))
    swap_sides(car, Axle.REAR, act=builders.act(owner, minutes=1))
    places = load_places(car)
    assert (places[LEFT].part, places[RIGHT].part) == (other, tyre)
    last = PartMove.objects.filter(part=tyre).order_by("-id").first()
    assert last is not None
    assert (last.move, last.note) == (Move.SWAP, f"car {car.number}, rear right")
    assert AuditRow.objects.filter(event="car.swapped").count() == 1
    assert now(tyre).state == PartState.ON_CAR


def test_front_set_is_swapped_for_a_pair_at_once(car: Car, owner: Person) -> None:
    old = [builders.make_part() for _ in range(2)]
    new = [builders.make_part() for _ in range(2)]
    front = (PartPosition.FRONT_LEFT, PartPosition.FRONT_RIGHT)
    for place, part in zip(front, old, strict=True):
        put_on(car, part, place, act=builders.act(owner))
    pair = make_pair(*new)
    assert list(pairs_for(car, owner)) == [pair]
    assert list(pairs_for(car, owner, f"{pair.tag} soft")) == [pair]
    assert not pairs_for(car, owner, "hard").exists()
    put_pair_on(car, pair, Axle.FRONT, act=builders.act(owner))
    places = load_places(car)
    assert [places[one].part for one in front] == new
    assert {now(part).state for part in old} == {PartState.WITH_MEMBER}
    assert not pairs_for(car, owner).exists()


def test_pair_of_which_one_is_away_does_not_go_on(car: Car, owner: Person) -> None:
    first, second = builders.make_part(), builders.make_part()
    pair = make_pair(first, second)
    builders.fit(builders.make_car(), second)
    said = refused(put_pair_on, car, pair, Axle.REAR, act=builders.act(owner))
    assert said.field == "pair"
    assert now(first).state == PartState.IN_STOCK


def test_set_that_is_no_pair_does_not_go_on(car: Car, owner: Person) -> None:
    pair = make_pair(builders.make_part(), builders.make_part())
    split_set(pair, reason="worn", act=builders.act(keeper()))
    pair.refresh_from_db()
    said = refused(put_pair_on, car, pair, Axle.REAR, act=builders.act(owner))
    assert said.code == "no_pair"


def test_empty_place_is_told_so(car: Car, owner: Person) -> None:
    said = refused(take_off, car, PartPosition.GUIDE, act=builders.act(owner))
    assert f"car {car.number}, guide" in said.sentence


# The pages.


# In line the pinion's shaft points at the axle, across it lies beside it: common
# practice, no source.
@pytest.mark.parametrize(
    ("layout", "drives", "does_not"),
    [
        (Layout.IN_LINE, GearRole.CROWN, GearRole.SPUR),
        (Layout.SIDEWINDER, GearRole.SPUR, GearRole.CROWN),
        (Layout.ANGLEWINDER, GearRole.SPUR, GearRole.CROWN),
    ],
)
def test_gear_that_cannot_drive_is_asked_about(
    owner: Person, layout: Layout, drives: GearRole, does_not: GearRole
) -> None:
    car = builders.make_car(owner=owner, layout=layout)
    right, wrong = (garage.gear(28, "15.00", role=role) for role in (drives, does_not))
    place, act = PartPosition.GEAR, builders.act(owner)
    said = refused(put_on, car, wrong, place, act=act)
    assert said.code == "cannot_drive"
    assert f"This is a {does_not}, and cannot drive car {car.number}" in said.sentence
    assert f"it is {layout}, which takes a {drives}." in said.sentence
    assert not FittedPart.objects.filter(car=car).exists()
    assert put_on(car, right, place, act=act).part == right
    take_off(car, place, act=act)
    assert put_on(car, wrong, place, act=act, is_meant=True).part == wrong


def test_pinion_is_not_asked_about(car: Car, owner: Person) -> None:
    act = builders.act(owner)
    pinion = garage.pinion(9)
    assert put_on(car, pinion, PartPosition.PINION, act=act).part == pinion


def test_pages_ask_about_a_gear_that_cannot_drive(car: Car, owner: Person) -> None:
    spur, member = garage.gear(28, "15.00"), client_of(owner)
    where = f"/cars/{car.tag}/on/gear"
    asked = member.post(where, {"chosen": spur.tag, "since": ""})
    words = asked.content.decode()
    assert asked.status_code == 422
    assert "This is a spur, and cannot drive" in words
    assert f'name="meant" value="{spur.tag}"' in words
    # Enter presses the first button of a form: it searches, and means nothing so.
    assert words.index("Put on, or search") < words.index('name="meant"')
    # What was typed meanwhile is not what was asked about.
    done = member.post(where, {"meant": spur.tag, "part": "", "since": ""})
    assert done.status_code == HTTPStatus.FOUND
    member.post(f"/cars/{car.tag}/on/gear/off")
    onto = {"car": car.tag, "place": "gear", "since": ""}
    where = f"/parts/{spur.tag}/onto"
    asked = member.post(where, onto)
    assert asked.status_code == 422
    assert 'name="meant"' in asked.content.decode()
    assert member.post(where, onto | {"meant": ""}).status_code == HTTPStatus.FOUND


def test_own_gear_that_cannot_drive_is_asked_about(car: Car, owner: Person) -> None:
    member, where = client_of(owner), f"/cars/{car.tag}/on/gear/own"
    said = {"role": "spur", "teeth": "28", "fixing": "screw", "gauge": "0"}
    asked = member.post(where, said)
    assert asked.status_code == 422
    assert "cannot drive" in asked.content.decode()
    assert 'name="meant"' in asked.content.decode()
    assert not Part.objects.exists()
    assert member.post(where, said | {"meant": ""}).status_code == HTTPStatus.FOUND
    assert Part.objects.get().state == PartState.ON_CAR


def test_page_puts_on_by_tag_by_button_and_by_search(
    car: Car, owner: Person, tyre: Part
) -> None:
    member = client_of(owner)
    where = f"/cars/{car.tag}/on/rear-left"
    listed = member.get(where)
    assert [row[0] for row in listed.context["rows"]] == [tyre]
    found = member.post(where, {"part": "soft", "since": ""})
    assert found.status_code == HTTPStatus.OK
    assert [row[0] for row in found.context["rows"]] == [tyre]
    nothing = member.post(where, {"part": "no such words", "since": ""})
    assert nothing.status_code == 422
    assert "“no such words” is the tag of no part" in nothing.content.decode()
    assert "Found by" not in nothing.content.decode()
    day = timezone.localdate() - dt.timedelta(days=3)
    done = member.post(
        where, {"part": "", "chosen": tyre.tag, "since": day.isoformat()}, follow=True
    )
    words = done.content.decode()
    assert f"{tyre.tag} is on car {car.number}: rear left." in words
    assert timezone.localdate(FittedPart.objects.get().fitted_at) == day
    other = builders.make_part()
    typed = member.post(
        f"/cars/{car.tag}/on/rear-right", {"part": other.tag.lower(), "since": ""}
    )
    assert typed.status_code == HTTPStatus.FOUND
    swapped = member.post(f"/cars/{car.tag}/swap/rear", follow=True)
    assert "The rear tyres have changed sides." in swapped.content.decode()
    off = member.post(f"/cars/{car.tag}/on/rear-left/off", follow=True)
    assert f"{other.tag} is off: rear left." in off.content.decode()
    again = member.post(f"/cars/{car.tag}/on/rear-left/off", follow=True)
    assert "Nothing of the stock sits" in again.content.decode()


@pytest.mark.parametrize(
    ("since", "expected"),
    [
        ("31st of May", "“31st of May” was typed; a day, 2026-05-31, was expected."),
        ("2999-01-01", "is still to come; today or a day before was expected."),
    ],
)
def test_day_that_cannot_be_is_refused_and_nothing_typed_is_lost(
    car: Car, owner: Person, tyre: Part, since: str, expected: str
) -> None:
    where = f"/cars/{car.tag}/on/rear-left"
    page = client_of(owner).post(where, {"part": tyre.tag, "since": since})
    words = page.content.decode()
    assert page.status_code == 422
    assert expected in words
    assert f'value="{tyre.tag}"' in words
    assert f'value="{since}"' in words
    assert now(tyre).state == PartState.IN_STOCK


def test_own_part_goes_on_with_its_sizes(car: Car, owner: Person) -> None:
    member = client_of(owner)
    where = f"/cars/{car.tag}/on/gear/own"
    said = {
        "role": "crown",
        "teeth": "36",
        "pitch_name": "module 0.5",
        "fixing": "screw",
        "size_gear_diameter": "19,00",
        "size_bore": "2.40",
        "gauge": "0",
    }
    assert "pinion</option>" not in member.get(where).content.decode()
    wrong = member.post(where, said | {"pitch_name": "sixty"})
    assert "“sixty” was typed; expected: “64 pitch”" in wrong.content.decode()
    assert member.post(where, said).status_code == HTTPStatus.FOUND
    part = Part.objects.get()
    assert (part.owner, part.state) == (owner, PartState.ON_CAR)
    sizes = dict(part.estimates.current().values_list("quantity", "value"))
    assert sizes[PartQuantity.BORE] == 2_400_000
    assert sizes[PartQuantity.GEAR_DIAMETER] == 19_000_000
    assert part.tag in member.get(f"/cars/{car.tag}").content.decode()


@pytest.mark.parametrize(
    ("wrong", "field", "expected"),
    [
        ({"teeth": ""}, "teeth", "required"),
        ({"teeth": "3"}, "teeth", "greater than or equal to 4"),
        ({"size_bore": "wide"}, "size_bore", "wide"),
        (
            {"size_gear_diameter": "190"},
            "size_gear_diameter",
            "190 cannot be right (3 to 60 mm).",
        ),
        ({"since": "2999-01-01"}, "since", "still to come"),
    ],
)
def test_own_part_that_cannot_be_is_refused_and_nothing_typed_is_lost(
    car: Car, owner: Person, wrong: dict[str, str], field: str, expected: str
) -> None:
    said = {
        "role": "crown",
        "teeth": "36",
        "fixing": "screw",
        "size_gear_diameter": "19",
        "gauge": "0",
    }
    page = client_of(owner).post(f"/cars/{car.tag}/on/gear/own", said | wrong)
    assert page.status_code == 422
    assert expected in str(page.context["form"].errors[field])
    assert 'value="19' in page.content.decode()
    assert not Part.objects.exists()


def test_pair_goes_on_from_its_page(car: Car, owner: Person) -> None:
    member = client_of(owner)
    pair = make_pair(builders.make_part(), builders.make_part())
    where = f"/cars/{car.tag}/pair/rear"
    assert pair.tag in member.get(where).content.decode()
    nothing = member.post(where, {"pair": "P9", "since": ""})
    assert "“P9” is the tag of no pair" in nothing.content.decode()
    soft = member.post(where, {"pair": "soft", "since": ""})
    assert [one.part_set for one in soft.context["pairs"]] == [pair]
    wrong = member.post(where, {"pair": pair.tag, "since": "2999-01-01"})
    assert "still to come" in wrong.content.decode()
    done = member.post(where, {"pair": pair.tag, "since": ""}, follow=True)
    assert f"{pair.tag} is on car {car.number}: rear axle." in done.content.decode()


def test_whoever_scans_a_label_puts_the_part_on_from_there(
    car: Car, owner: Person
) -> None:
    member, gear = client_of(owner), garage.gear(36, "18.00")
    assert f'href="/parts/{gear.tag}/onto"' in (
        member.get(f"/parts/{gear.tag}").content.decode()
    )
    where = f"/parts/{gear.tag}/onto"
    wrong = member.post(where, {"car": "999", "place": "gear", "since": ""})
    assert "No car is called “999”" in wrong.content.decode()
    builders.fit(builders.make_car(owner=owner), gear, PartPosition.GEAR)
    away = member.post(where, {"car": car.tag, "place": "gear", "since": ""})
    assert away.status_code == 422
    assert "take it off there first" in away.content.decode()
    other = garage.gear(34, "17.50", role=GearRole.CROWN)
    where = f"/parts/{other.tag}/onto"
    done = member.post(where, {"car": car.tag, "place": "gear", "since": ""})
    assert done.status_code == HTTPStatus.FOUND
    assert now(other).state == PartState.ON_CAR


def test_who_has_no_car_is_shown_how_to_register_one(tyre: Part) -> None:
    page = client_of(builders.make_person()).get(f"/parts/{tyre.tag}/onto")
    assert "/cars/new" in page.content.decode()


def test_keeper_opens_every_car_and_no_sheet(car: Car, tyre: Part) -> None:
    sheet = builders.make_sheet(entry=builders.make_entry(car=car))
    page = client_of(keeper()).get(f"/cars/{car.tag}")
    words = page.content.decode()
    assert f"/cars/{car.tag}/on/rear-left" in words
    assert sheet.number not in words


def test_admin_looks_and_changes_nothing(car: Car) -> None:
    admin = client_of(builders.make_admin())
    assert "/on/rear-left" not in admin.get(f"/cars/{car.tag}").content.decode()
    assert admin.get(f"/cars/{car.tag}/on/rear-left").status_code == 404
    assert admin.post(f"/cars/{car.tag}/swap/rear").status_code == 404


@pytest.mark.parametrize("path", ["on/roof", "on/roof/own", "pair/middle"])
def test_places_that_no_car_has_are_not_there(
    car: Car, owner: Person, path: str
) -> None:
    assert client_of(owner).get(f"/cars/{car.tag}/{path}").status_code == 404


def test_crowns_and_spurs_go_in_the_gears_place(car: Car) -> None:
    crown = builders.make_part(GearFacts(role=GearRole.CROWN, teeth=27))
    assert positions_for(crown) == [PartPosition.GEAR]
