"""One's own account: devices, the second factor, data as a file, and erasing."""

import hashlib
import hmac
import json
import re
import struct
import time
from base64 import b32decode
from collections.abc import Callable
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django_otp import DEVICE_ID_SESSION_KEY
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.actions.people.erasing import erase_after_time, erase_person
from inventory.actions.people.second_factor import (
    begin_second_factor,
    check_second_factor,
    renew_recovery_codes,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.devices import device_words
from inventory.compute.roles import Role
from inventory.compute.stock.words import PartState
from inventory.models import AuditRow, OpenSession, Part, Person
from tests import builders
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db
ClientOf = Callable[[Person], Client]


def code_at(secret: bytes, seconds: float) -> str:
    """Give the six digits of RFC 6238 (SHA-1, 30 s) with RFC 4226's truncation."""
    digest = hmac.new(secret, struct.pack(">Q", int(seconds) // 30), hashlib.sha1)
    cut = digest.digest()[digest.digest()[-1] & 15 :][:4]
    return f"{(struct.unpack('>I', cut)[0] & 0x7FFFFFFF) % 1_000_000:06d}"


def test_codes_are_those_of_the_standard() -> None:
    # RFC 6238, appendix B, the row of 59 s, of whose eight digits six are the last.
    assert code_at(b"12345678901234567890", 59) == "94287082"[-6:]


def person_with_factor() -> tuple[Person, list[str], bytes]:
    """Give a chief with a second factor, their recovery codes and the secret."""
    person = builders.make_person(Role.CHIEF_SCRUTINEER, password=PASSWORD)
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    page = "/account/second-factor"
    shown = client.post(page, {"deed": "begin"}).content.decode()
    found = re.search(r"handed-address\">([A-Z2-7 ]+)<", shown)
    assert found is not None
    secret = b32decode(found[1].replace(" ", ""))
    wrong = client.post(page, {"deed": "confirm", "code": "12"})
    assert wrong.status_code == 422
    assert "not the code that is shown now" in wrong.content.decode()
    TOTPDevice.objects.update(throttling_failure_count=0)
    typed = {"deed": "confirm", "code": code_at(secret, time.time())}
    done = client.post(page, typed).content.decode()
    codes = re.findall(r"<li><code>([a-z0-9-]+)</code>", done)
    assert DEVICE_ID_SESSION_KEY in client.session
    return person, codes, secret


def begin_sign_in(person: Person) -> Client:
    client = Client()
    typed = {"username": person.sign_in_name, "password": PASSWORD}
    answer = client.post("/sign-in?next=/parts", typed)
    assert answer["Location"] == "/sign-in/code"
    assert client.get("/parts").status_code == 302
    return client


def test_password_and_phone_let_in_together_and_each_code_once() -> None:
    person, _codes, secret = person_with_factor()
    # The next step's code is good already; the one that confirmed is used.
    code = code_at(secret, time.time() + 30)
    client = begin_sign_in(person)
    assert client.get("/sign-in/code").status_code == 200
    assert client.post("/sign-in/code", {"code": code})["Location"] == "/parts"
    assert client.get("/parts").status_code == 200
    again = begin_sign_in(person).post("/sign-in/code", {"code": code})
    assert again.status_code == 422
    waiting = begin_sign_in(person).post("/sign-in/code", {"code": "000000"})
    assert "Wait " in waiting.content.decode()
    events = AuditRow.objects.filter(event="second_factor.failed")
    assert events.count() == 2


def test_a_recovery_code_lets_in_once_and_is_kept_as_a_hash() -> None:
    person, codes, _secret = person_with_factor()
    assert len(codes) == len(set(codes)) == 10
    kept = set(StaticToken.objects.values_list("token", flat=True))
    assert kept.isdisjoint(code.replace("-", "") for code in codes)
    typed = {"code": codes[3].upper().replace("-", " ")}
    client = begin_sign_in(person)
    assert client.post("/sign-in/code", typed)["Location"] == "/parts"
    assert "9 recovery codes are left" in client.get("/account").content.decode()
    second = begin_sign_in(person).post("/sign-in/code", typed)
    assert second.status_code == 422
    renewed = client.post("/account/second-factor", {"deed": "renew"})
    assert len(re.findall("<li><code>", renewed.content.decode())) == 10
    StaticDevice.objects.update(throttling_failure_count=0)
    old = begin_sign_in(person).post("/sign-in/code", {"code": codes[4]})
    assert old.status_code == 422


def test_the_code_is_asked_of_who_typed_the_password_just_now(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    person, codes, _secret = person_with_factor()
    assert Client().get("/sign-in/code")["Location"] == "/sign-in"
    client = begin_sign_in(person)
    other = begin_sign_in(person)
    began = time.time()
    monkeypatch.setattr(time, "time", lambda: began + 601)
    assert client.post("/sign-in/code", {"code": codes[0]})["Location"] == "/sign-in"
    monkeypatch.undo()
    person.set_password("five loud wheels turn")
    person.save()
    assert other.post("/sign-in/code", {"code": codes[0]})["Location"] == "/sign-in"


def test_a_second_factor_goes_by_its_owner_or_by_an_admin(client_of: ClientOf) -> None:
    person, _codes, _secret = person_with_factor()
    mine = client_of(person)
    assert "Recovery codes, or take it away" in mine.get("/account").content.decode()
    twice = mine.post("/account/second-factor", {"deed": "begin"})
    assert "You have a second factor already" in twice.content.decode()
    admin = client_of(builders.make_admin())
    page = f"/people/{person.pk}"
    assert "Take the second factor away" in admin.get(page).content.decode()
    admin.post(f"{page}/without-second-factor")
    assert mine.get("/").status_code == 302
    typed = {"username": person.sign_in_name, "password": PASSWORD}
    assert Client().post("/sign-in", typed)["Location"] == "/"
    act = builders.act(person)
    with pytest.raises(RefusedError):
        renew_recovery_codes(act=act)
    with pytest.raises(RefusedError):
        check_second_factor(person, "123456")
    again, _codes, _secret = person_with_factor()
    own = client_of(again)
    answer = own.post("/account/second-factor", {"deed": "take"})
    assert answer["Location"] == "/account"
    assert "Off." in own.get("/account").content.decode()
    begin_second_factor(act=act)
    begin_second_factor(act=act)
    assert TOTPDevice.objects.filter(user=person).count() == 1


@pytest.mark.parametrize("role", list(Role))
def test_where_the_club_is_shared_admin_and_chief_add_one_first(
    role: Role, client_of: ClientOf, settings: Any
) -> None:
    settings.SECOND_FACTOR_ASKED = True
    client = client_of(builders.make_person(role))
    is_asked = role in {Role.ADMIN, Role.CHIEF_SCRUTINEER}
    answer = client.get("/parts")
    assert answer.status_code == (302 if is_asked else 200)
    if not is_asked:
        return
    assert answer["Location"] == "/account/second-factor"
    page = client.get("/account/second-factor").content.decode()
    assert "reached from outside the hall" in page
    assert client.get("/account").status_code == 200
    assert client.get("/no/such/page").status_code == 404
    fragment = client.get("/parts", headers={"hx-request": "true"})
    assert fragment["HX-Redirect"] == "/account/second-factor"
    session = client.session
    session[DEVICE_ID_SESSION_KEY] = "otp_totp.totpdevice/1"
    session.save()
    assert client.get("/parts").status_code == 200
    assert Client().get("/sign-in").status_code == 200


def test_own_devices_are_signed_out_one_by_one(client_of: ClientOf) -> None:
    person, other = builders.make_person(), builders.make_person()
    here, phone, tablet = (client_of(person) for _ in range(3))
    stranger = client_of(other)
    page = here.get("/account").content.decode()
    assert page.count("this one") == 1
    marks = re.findall(r"/account/devices/([0-9a-f]{12})/end", page)
    assert len(marks) == 2
    stranger.post(f"/account/devices/{marks[0]}/end")
    assert OpenSession.objects.filter(person=person).count() == 3
    here.post(f"/account/devices/{marks[0]}/end")
    left = [one.get("/account").status_code for one in (here, phone, tablet)]
    assert sorted(left) == [200, 200, 302]
    again = here.post(f"/account/devices/{marks[0]}/end", follow=True)
    assert "signed out already" in again.content.decode()
    here.post("/account/devices/others/end")
    assert OpenSession.objects.filter(person=person).count() == 1
    assert here.get("/account").status_code == 200
    assert AuditRow.objects.get(event="sessions.ended").detail == {"count": 1}


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("Mozilla/5.0 (X11; Linux x86_64; rv:145.0) Firefox/145.0", "Firefox on Linux"),
        ("Mozilla/5.0 (iPhone; CPU like Mac OS X) Safari/604.1", "Safari on iPhone"),
        ("Mozilla/5.0 (Windows NT 10.0) Chrome/142 Edg/142", "Edge on Windows"),
        ("curl/8", "a browser"),
    ],
)
def test_a_device_is_said_in_its_owners_words(said: str, words: str) -> None:
    assert device_words(said) == words


def test_all_that_names_a_person_is_in_the_file_and_nothing_that_lets_in(
    client_of: ClientOf,
) -> None:
    sheet = builders.make_sheet()
    owner = sheet.entry.car.owner
    client = client_of(owner)
    answer = client.get("/account/data")
    assert "attachment" in answer["Content-Disposition"]
    said = json.loads(answer.content)
    tables = said["rows that name this person"]
    assert said["person"]["name"] == owner.name
    assert tables["inspection.Car, owner"][0]["id"] == sheet.entry.car_id
    assert "inventory.RoleGrant, person" in tables
    words = answer.content.decode()
    assert owner.name_salt not in words
    assert str(client.session.session_key) not in words
    admin = client_of(builders.make_admin())
    assert admin.get(f"/people/{owner.pk}/data").content.decode() != ""
    assert AuditRow.objects.filter(event="data.exported").count() == 2


def test_erasing_takes_the_name_from_everywhere_and_breaks_no_seal(
    client_of: ClientOf,
) -> None:
    scrutineer = builders.make_person(Role.SCRUTINEER, name="Ida Penn")
    sheet = builders.make_sheet(by=scrutineer)
    chief_person = builders.make_person(Role.CHIEF_SCRUTINEER)
    builders.send_back(sheet.number, act=builders.act(chief_person, minutes=3))
    chief = client_of(chief_person)
    page = reverse("inspection:sheet", args=[sheet.number])
    assert "Ida Penn" in chief.get(page).content.decode()
    admin = client_of(builders.make_admin())
    theirs = client_of(scrutineer)
    address = f"/people/{scrutineer.pk}/erase"
    asked = admin.post(address, {"sign_in_name": "somebody"})
    assert f"{scrutineer.sign_in_name} was expected" in asked.content.decode()
    admin.post(address, {"sign_in_name": scrutineer.sign_in_name.upper()})
    assert theirs.get("/").status_code == 302
    words = chief.get(page).content.decode()
    assert "Ida Penn" not in words
    assert "erased person" in words
    assert admin.get(address).status_code == 404
    assert "erased" in admin.get(f"/people/{scrutineer.pk}").content.decode()
    before = scrutineer.name_salt
    scrutineer.refresh_from_db()
    assert scrutineer.name_salt != before
    assert not scrutineer.has_usable_password()
    assert "Ida Penn" not in str(AuditRow.objects.values_list("subject", "detail"))
    out = StringIO()
    call_command("check_seals", stdout=out)
    assert out.getvalue() == "1 seal holds.\n"


def test_who_has_parts_or_is_the_last_admin_is_not_erased(client_of: ClientOf) -> None:
    person = builders.make_person()
    part = builders.make_part()
    Part.objects.filter(pk=part.pk).update(holder=person, state=PartState.WITH_MEMBER)
    mine = client_of(person)
    typed = {"sign_in_name": person.sign_in_name}
    held = mine.post("/account/erase", typed)
    assert "has 1 part of the club; take it back first" in held.content.decode()
    founder = builders.make_admin()
    with pytest.raises(RefusedError, match="the last admin"):
        erase_person(founder, act=builders.act())
    Part.objects.filter(pk=part.pk).update(holder=None, state=PartState.IN_STOCK)
    assert mine.post("/account/erase", typed)["Location"] == "/sign-in"
    with pytest.raises(RefusedError, match="erased already"):
        erase_after_time(person, at=builders.NOW, months=12)
