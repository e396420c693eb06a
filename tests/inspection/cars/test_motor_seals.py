"""Motor seals: put on by number, broken with a reason, in the seal of a sheet."""

import json

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from inspection.actions.fit.fitted import remove_part
from inspection.actions.notes.motor_seals import break_motor_seal, put_on_motor_seal
from inspection.compute.night import PartPosition
from inspection.loaders.seals.held_sheets import differences_of_night
from inspection.models import Car, FittedPart, MotorSeal, Seal
from inventory.actions.refusals import RefusedError
from inventory.compute.stock import MotorFacts
from inventory.models import Part
from tests import builders

pytestmark = pytest.mark.django_db

WHY = "the motor was opened by its driver"


@pytest.fixture
def car() -> Car:
    return builders.make_car()


@pytest.fixture
def motor() -> Part:
    return builders.make_part(MotorFacts(family="slim"))


def put_on(car: Car, number: str, *, minutes: float = 0) -> MotorSeal:
    return put_on_motor_seal(car, number, act=builders.act(minutes=minutes))


def numbers_in(sealed: Seal) -> list[str]:
    item = json.loads(sealed.content)["item"]
    return [one["number"] for one in item["motor_seals"]]


def code_of(car: Car, number: str) -> str:
    with pytest.raises(RefusedError) as refusal:
        put_on(car, number)
    assert refusal.value.field == "number"
    return refusal.value.code


def test_number_is_used_once_and_a_whole_seal_is_broken_first(car: Car) -> None:
    seal = put_on(car, " A 17 ")
    assert (seal.number, seal.motor) == ("A 17", None)
    assert code_of(car, " ") == "number_missing"
    assert code_of(builders.make_car(), "a 17") == "number_used"
    assert code_of(car, "A 18") == "sealed_already"
    with pytest.raises(IntegrityError), transaction.atomic():
        MotorSeal.objects.create(number="a 17", car=car, by=seal.by, at=builders.NOW)
    for reason, code in (("hm", "reason_missing"), (WHY, ""), (WHY, "broken_already")):
        if not code:
            break_motor_seal(seal, reason=reason, act=builders.act(minutes=2))
            continue
        with pytest.raises(RefusedError) as refusal:
            break_motor_seal(seal, reason=reason, act=builders.act(minutes=3))
        assert refusal.value.code == code
    assert put_on(car, "A 18").number == "A 18"
    assert code_of(builders.make_car(), "A 17") == "number_used"


def test_seal_goes_with_its_motor_from_car_to_car(car: Car, motor: Part) -> None:
    builders.fit(car, motor, PartPosition.MOTOR)
    seal = put_on(car, "B 1")
    assert seal.motor == motor
    remove_part(FittedPart.objects.get(part=motor), act=builders.act())
    other = builders.make_car()
    builders.fit(other, motor, PartPosition.MOTOR)
    assert code_of(other, "B 2") == "sealed_already"
    # The car that it came from bears none now.
    put_on(car, "B 3")
    entry = builders.make_entry(car=other)
    sealed = builders.send_back(
        builders.make_sheet(entry=entry).number, act=builders.act(minutes=3)
    )
    assert numbers_in(sealed) == ["B 1"]


def test_sheet_keeps_the_seal_that_was_whole_when_it_was_sealed(car: Car) -> None:
    seal = put_on(car, "C 1")
    sheet = builders.make_sheet(entry=builders.make_entry(car=car))
    sealed = builders.send_back(sheet.number, act=builders.act(minutes=3))
    assert numbers_in(sealed) == ["C 1"]
    break_motor_seal(seal, reason=WHY, act=builders.act(minutes=4))
    put_on(car, "C 2", minutes=5)
    assert differences_of_night(sheet.entry.night) == []
    client = Client()
    client.force_login(builders.make_scrutineer())
    words = client.get(f"/sheet/{sheet.number}").content.decode()
    assert "C 1" in words
    assert "C 2" not in words


def test_block_says_that_a_seal_is_broken_until_another_is_on(
    car: Car, motor: Part
) -> None:
    builders.fit(car, motor, PartPosition.MOTOR)
    sheet = builders.make_sheet(entry=builders.make_entry(car=car))
    client = Client()
    client.force_login(builders.make_scrutineer())

    def says(words: str) -> list[bool]:
        pages = (f"/sheet/{sheet.number}/block", f"/sheet/{sheet.number}")
        return [words in client.get(page).content.decode() for page in pages]

    assert says("broken: ") == [False, False]
    break_motor_seal(put_on(car, "E 1"), reason=WHY, act=builders.act(minutes=1))
    assert says(f"motor seal E 1 broken: {WHY}") == [True, True]
    put_on(car, "E 2", minutes=2)
    assert says("E 2") == [True, True]
    assert says("broken: ") == [False, False]


def test_history_is_on_a_page_of_the_car_and_of_its_motor(
    car: Car, motor: Part
) -> None:
    builders.fit(car, motor, PartPosition.MOTOR)
    scrutineer, owner, stranger = Client(), Client(), Client()
    scrutineer.force_login(builders.make_scrutineer())
    owner.force_login(car.owner)
    stranger.force_login(builders.make_person())
    page = f"/cars/{car.tag}/motor-seals"
    assert page in owner.get(f"/cars/{car.tag}").content.decode()
    assert stranger.get(page).status_code == 404
    assert owner.post(f"{page}/new", {"number": "D 1"}).status_code == 403
    scrutineer.post(f"{page}/new", {"number": "D 1"})
    seal = MotorSeal.objects.get()
    refused = scrutineer.post(f"{page}/new", {"number": "D 2"})
    assert refused.status_code == 422
    assert 'value="D 2"' in refused.content.decode()
    broken = f"/motor-seal/{seal.pk}/broken"
    assert broken in scrutineer.get(page).content.decode()
    assert scrutineer.post(broken, {"reason": "hm"}).status_code == 422
    assert "Seal D 1" in scrutineer.get(broken).content.decode()
    scrutineer.post(broken, {"reason": WHY})
    for client, address in ((owner, page), (scrutineer, f"/parts/{motor.tag}")):
        words = client.get(address).content.decode()
        assert "D 1" in words
        assert WHY in words
    assert motor.tag in owner.get(page).content.decode()
