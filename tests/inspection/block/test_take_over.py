"""A change of hands at one device: by password, or by a code from one's own phone."""

import datetime as dt
import re
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from django_otp import DEVICE_ID_SESSION_KEY
from django_otp.plugins.otp_totp.models import TOTPDevice

from inspection.actions.seals import seal_sheet
from inspection.compute.night import Decision
from inspection.models import Entry, Sheet, SheetReading
from inventory.actions.people.sign_in import CODE_LASTS, use_take_over_code
from inventory.compute.roles import Role
from inventory.models import AuditRow, GaugeMode, Person, TakeOverCode
from tests import builders

pytestmark = pytest.mark.django_db
PASSWORD = "a long and quiet evening"
COLUMN = "tyre_diameter_rear_left"
JSON = {"Accept": "application/json"}


@pytest.fixture
def anna() -> Person:
    return builders.make_person(Role.SCRUTINEER, name="Anna Quill")


@pytest.fixture
def bert() -> Person:
    return builders.make_person(Role.SCRUTINEER, name="Bert Ash", password=PASSWORD)


@pytest.fixture
def sheet(anna: Person) -> Sheet:
    return builders.make_sheet(by=anna)


@pytest.fixture
def caliper() -> GaugeMode:
    return builders.make_gauge()


@pytest.fixture
def tablet(anna: Person, client_of: Callable[[Person], Client]) -> Client:
    return client_of(anna)


def code_of(phone: Client) -> str:
    page = phone.post("/take-over").content.decode()
    found = re.search(r"take-over-code[^>]*>(\d{6})<", page)
    assert found, page
    return found[1]


def hand_over(tablet: Client, sheet: Sheet, who: Person, secret: str) -> Any:
    said = {"who": who.pk, "secret": secret}
    return tablet.post(f"/sheet/{sheet.number}/take-over", said, headers=JSON)


def read(
    tablet: Client, sheet: Sheet, caliper: GaugeMode, typed_by: Person | None = None
) -> Any:
    said = {
        "reading_id": uuid.uuid4(),
        "column": COLUMN,
        "text": "18.4",
        "gauge": caliper.pk,
        "typed_by": typed_by.pk if typed_by else "",
    }
    return tablet.post(f"/sheet/{sheet.number}/reading", said, headers=JSON)


@pytest.mark.parametrize("way", ["code", "password"])
def test_whoever_takes_over_goes_on_in_their_own_name(
    tablet: Client,
    sheet: Sheet,
    caliper: GaugeMode,
    anna: Person,
    bert: Person,
    client_of: Callable[[Person], Client],
    way: str,
) -> None:
    assert read(tablet, sheet, caliper, anna).status_code == 200
    old_session = tablet.session.session_key
    secret = code_of(client_of(bert)) if way == "code" else PASSWORD
    answer = hand_over(tablet, sheet, bert, secret)
    assert answer.status_code == 200
    assert answer.json()["person"] == str(bert.pk)
    assert answer.json()["name"] == "Bert Ash"
    assert read(tablet, sheet, caliper, bert).status_code == 200
    assert [row.by for row in SheetReading.objects.order_by("pk")] == [anna, bert]
    assert tablet.session.session_key != old_session
    row = AuditRow.objects.get(event="sheet.taken_over")
    assert (row.actor, row.detail["before"]) == (bert, anna.pk)


def test_what_the_first_person_typed_is_not_taken_in_the_others_name(
    tablet: Client, sheet: Sheet, caliper: GaugeMode, anna: Person, bert: Person
) -> None:
    hand_over(tablet, sheet, bert, PASSWORD)
    answer = read(tablet, sheet, caliper, anna)
    assert answer.status_code == 422
    assert [error["code"] for error in answer.json()["errors"]] == ["typed_by_other"]
    assert answer.json()["person"] == str(bert.pk)
    assert not SheetReading.objects.exists()


def test_a_code_is_used_once_and_by_its_own_person(
    tablet: Client,
    sheet: Sheet,
    anna: Person,
    bert: Person,
    client_of: Callable[[Person], Client],
) -> None:
    code = code_of(client_of(bert))
    kept = TakeOverCode.objects.get()
    assert code not in kept.code_hash
    third = builders.make_person(Role.SCRUTINEER, password=PASSWORD)
    assert hand_over(tablet, sheet, third, code).status_code == 422
    assert hand_over(tablet, sheet, bert, code).status_code == 200
    assert not TakeOverCode.objects.exists()
    assert hand_over(client_of(anna), sheet, bert, code).status_code == 422


def test_a_code_ends_and_a_new_one_ends_the_one_before(
    bert: Person, client_of: Callable[[Person], Client]
) -> None:
    phone = client_of(bert)
    first, second = code_of(phone), code_of(phone)
    now = timezone.now()
    if first != second:
        assert not use_take_over_code(bert, first, at=now)
    assert not use_take_over_code(bert, second, at=now + CODE_LASTS)
    assert use_take_over_code(bert, second, at=now)
    assert dt.timedelta(minutes=5) >= CODE_LASTS


@pytest.mark.parametrize("secret", ["000000", "not the password", "", "12345"])
def test_who_proves_nothing_takes_nothing_over(
    tablet: Client, sheet: Sheet, anna: Person, bert: Person, secret: str
) -> None:
    answer = hand_over(tablet, sheet, bert, secret)
    assert answer.status_code == 422
    said = "Type the password" if not secret else "neither the password of Bert Ash"
    assert said in answer.json()["errors"][0]
    assert tablet.session["_auth_user_id"] == str(anna.pk)
    assert not AuditRow.objects.filter(event="sheet.taken_over").exists()


def test_wrong_codes_bring_the_wait_of_wrong_passwords(
    tablet: Client,
    sheet: Sheet,
    bert: Person,
    client_of: Callable[[Person], Client],
) -> None:
    code = code_of(client_of(bert))
    wrong = "000000" if code != "000000" else "000001"
    said = [hand_over(tablet, sheet, bert, wrong).status_code for _ in range(5)]
    assert said[:4] == [422] * 4
    assert said[4] == 429
    # The right one is not looked at meanwhile, and still holds elsewhere.
    assert hand_over(tablet, sheet, bert, code).status_code == 429
    assert TakeOverCode.objects.exists()


def test_only_another_who_inspects_cars_is_offered(
    tablet: Client, sheet: Sheet, anna: Person, bert: Person
) -> None:
    member = builders.make_person(name="Mia Low", password=PASSWORD)
    gone = builders.make_person(Role.SCRUTINEER, name="Gus Far", password=PASSWORD)
    Person.objects.filter(pk=gone.pk).update(is_active=False)
    page = tablet.get(f"/sheet/{sheet.number}/block").content.decode()
    start = page.index('name="who"')
    offered = re.findall(
        r">([^<]+)</option>", page[start : page.index("</select>", start)]
    )
    assert set(offered) == {"choose", "Anna Quill", "Bert Ash"}
    for one, sentence in (
        (member, "That is nobody who inspects cars."),
        (gone, "That is nobody who inspects cars."),
        (anna, "Anna Quill is signed in here already."),
    ):
        answer = hand_over(tablet, sheet, one, PASSWORD)
        assert answer.status_code == 422
        assert answer.json()["errors"] == [sentence]


def test_without_script_the_page_comes_again_as_theirs_with_the_same_gauge(
    tablet: Client, sheet: Sheet, bert: Person
) -> None:
    session = tablet.session
    session["gauges"] = {"caliper": 7}
    session.save()
    address = f"/sheet/{sheet.number}/take-over"
    # What the block's own form holds when its button for it is pressed.
    typed = {"column": "tyre_diameter_rear_right", "text": "18,4 ", "high_text": ""}
    page = tablet.post(address, typed).content.decode()
    assert "“18,4 ” is typed and not taken" in page
    hidden = re.findall(r'type="hidden" name="(column|text)" value="([^"]*)"', page)
    assert dict(hidden) == {"column": "tyre_diameter_rear_right", "text": "18,4 "}
    said = dict(hidden) | {"who": bert.pk, "secret": "wrong and long enough"}
    page = tablet.post(address, said).content.decode()
    assert "neither the password of Bert Ash" in page
    assert 'name="text" value="18,4 "' in page
    answer = tablet.post(address, said | {"secret": PASSWORD}, follow=True)
    page = answer.content.decode()
    assert "Bert Ash" in page
    assert re.search(r'id="id_text" name="text" value="18,4 "', page)
    assert 'id="bench-column" value="tyre_diameter_rear_right"' in page
    assert not SheetReading.objects.exists()
    assert tablet.session["gauges"] == {"caliper": 7}


def test_a_sealed_sheet_changes_no_hands(
    tablet: Client, sheet: Sheet, bert: Person
) -> None:
    assert hand_over(tablet, Sheet(number="none"), bert, PASSWORD).status_code == 404
    chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    seal_sheet(
        sheet.number,
        decision=Decision.SENT_BACK,
        reason="The rear wheels rub on the body.",
        act=builders.act(chief, minutes=3),
    )
    answer = hand_over(tablet, sheet, bert, PASSWORD)
    assert answer.status_code == 422
    assert "was sealed by" in answer.json()["errors"][0]


def test_whoever_lost_the_right_meanwhile_is_refused(
    tablet: Client, sheet: Sheet, anna: Person, bert: Person, monkeypatch: Any
) -> None:
    monkeypatch.setattr(Person, "may", lambda person, ability: person.pk == anna.pk)
    answer = hand_over(tablet, sheet, bert, PASSWORD)
    assert answer.status_code == 422
    assert answer.json()["errors"] == ["Bert Ash does not inspect cars."]


def test_code_is_shown_once_and_not_kept_on_the_page(
    bert: Person, client_of: Callable[[Person], Client]
) -> None:
    phone = client_of(bert)
    code = code_of(phone)
    page = phone.get("/take-over")
    assert code not in page.content.decode()
    assert "no-store" in page.headers["Cache-Control"]


def test_a_password_alone_is_not_enough_for_who_shows_a_phone_as_well(
    tablet: Client,
    sheet: Sheet,
    bert: Person,
    client_of: Callable[[Person], Client],
) -> None:
    device = TOTPDevice.objects.create(user=bert, name="phone", confirmed=True)
    answer = hand_over(tablet, sheet, bert, PASSWORD)
    assert answer.status_code == 422
    assert "A password is not enough for Bert Ash" in answer.json()["errors"][0]
    code = code_of(client_of(bert))
    assert hand_over(tablet, sheet, bert, code).status_code == 200
    assert tablet.session[DEVICE_ID_SESSION_KEY] == device.persistent_id


def test_nobody_takes_their_own_car_over(
    tablet: Client, sheet: Sheet, bert: Person
) -> None:
    Entry.objects.filter(pk=sheet.entry_id).update(driver=bert)
    answer = hand_over(tablet, sheet, bert, PASSWORD)
    assert answer.status_code == 422
    assert "is yours or your family" in answer.json()["errors"][0]
