"""Invitations and password links: one use, each end of them a sentence."""

import datetime as dt
import re
import socketserver
import threading
from collections.abc import Callable
from io import StringIO
from typing import Any

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from django.test import Client
from django.utils import timezone
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.actions.people.links import (
    Newcomer,
    invite,
    join_by_link,
    make_password_link,
    open_link,
    set_password_by_link,
    withdraw_link,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import AuditRow, HandedLink, Person
from inventory.views.addresses import is_only_here
from tests import builders
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db
ClientOf = Callable[[Person], Client]
NEW = "nine slow carts roll by"
TABLET = "Mozilla/5.0 (Android 15; Mobile; rv:145.0) Gecko/145.0 Firefox/145.0"
JOINING = {"name": "Ida Penn", "sign_in_name": "ida", "password": NEW}


@pytest.fixture
def admin(client_of: ClientOf) -> Client:
    return client_of(builders.make_admin())


def shown_address(page: str) -> str:
    found = re.search(r"(/link/[a-z0-9-]{19})<", page)
    assert found is not None
    return found[1]


def invited(admin: Client, **said: Any) -> str:
    typed = {"name": "Ida Penn", "roles": ["scrutineer"], **said}
    return admin.post("/people/invite", typed, follow=True).content.decode()


def test_who_is_invited_joins_with_the_roles_and_is_let_in(admin: Client) -> None:
    page = invited(admin)
    assert "<svg" in page
    assert "Ida Penn" in admin.get("/people").content.decode()
    guest = Client(headers={"user-agent": TABLET})
    address = shown_address(page)
    assert "You are invited as: scrutineer" in guest.get(address).content.decode()
    assert guest.post(address, JOINING)["Location"] == "/"
    assert guest.get("/").status_code == 200
    person = Person.objects.get(sign_in_name="ida")
    assert person.roles == {Role.SCRUTINEER}
    assert person.grants.get().granted_by == builders.make_admin()
    row = AuditRow.objects.get(event="person.joined")
    assert row.detail["device"] == "Firefox on Android"
    link = HandedLink.objects.get()
    assert (link.person, link.name) == (person, "")
    assert "Used" in admin.get(f"/people/links/{link.pk}").content.decode()


def test_a_link_that_was_used_says_when_and_with_what(admin: Client) -> None:
    address = shown_address(invited(admin))
    Client(headers={"user-agent": TABLET}).post(address, JOINING)
    other = Client().post(address, JOINING | {"sign_in_name": "eve"})
    assert other.status_code == 404
    words = other.content.decode()
    assert "used once already" in words
    assert "with Firefox on Android" in words
    assert 'href="/sign-in"' in words
    assert not Person.objects.filter(sign_in_name="eve").exists()


def test_what_is_wrong_stands_beside_its_field_and_the_link_stays(
    admin: Client,
) -> None:
    address = shown_address(invited(admin))
    builders.make_person()
    taken = Person.objects.latest("pk").sign_in_name
    for typed in (
        {"sign_in_name": taken},
        {"sign_in_name": "7"},
        {"password": "short"},
    ):
        answer = Client().post(address, JOINING | typed)
        assert answer.status_code == 422
        assert "Ida Penn" in answer.content.decode()
    assert Client().post(address, JOINING)["Location"] == "/"


def test_a_late_a_withdrawn_and_a_foreign_link_each_say_a_way_on() -> None:
    made = builders.NOW
    late = invite("Ida Penn", [Role.MEMBER], act=builders.act())
    open_link(late.code.upper().replace("-", " "), at=made + dt.timedelta(days=7))
    with pytest.raises(RefusedError, match="good for 7 days") as refusal:
        open_link(late.code, at=made + dt.timedelta(days=7, seconds=1))
    assert refusal.value.code == "late"
    person = builders.make_person()
    first = make_password_link(person, act=builders.act())
    second = make_password_link(person, act=builders.act())
    with pytest.raises(RefusedError, match="a newer one took its place"):
        open_link(first.code, at=made)
    with pytest.raises(RefusedError, match="good for 10 minutes"):
        open_link(second.code, at=made + dt.timedelta(minutes=10, seconds=1))
    foreign = Client().get("/link/abcd-efgh-jkmn-pqrs")
    assert foreign.status_code == 404
    assert "another club’s" in foreign.content.decode()


def test_a_withdrawn_link_opens_nothing_and_is_withdrawn_once(admin: Client) -> None:
    page = invited(admin)
    link = HandedLink.objects.get()
    admin.post(f"/people/links/{link.pk}/withdraw")
    assert "withdrawn" in Client().get(shown_address(page)).content.decode()
    again = admin.post(
        f"/people/links/{link.pk}/withdraw", follow=True
    ).content.decode()
    assert "was used, or withdrawn before" in again
    assert '<svg class="code' not in again
    with pytest.raises(RefusedError):
        withdraw_link(link, act=builders.act())


def test_a_code_is_shown_only_where_it_was_made(
    admin: Client, client_of: ClientOf
) -> None:
    page = invited(admin)
    other = client_of(builders.make_person(Role.ADMIN))
    link = HandedLink.objects.get()
    seen = other.get(f"/people/links/{link.pk}").content.decode()
    assert "only in the browser that made the link" in seen
    code = shown_address(page).rpartition("/")[2]
    assert code not in str(AuditRow.objects.values_list("detail", flat=True))
    assert link.code_sha256 != code


def test_who_is_signed_in_uses_up_no_link_of_another(
    admin: Client, client_of: ClientOf
) -> None:
    address = shown_address(invited(admin))
    page = admin.get(address).content.decode()
    assert "The Founder is signed in here" in page
    assert Client().get(address).status_code == 200


def test_a_forgotten_password_is_set_by_a_link_and_ends_what_was_open(
    admin: Client, client_of: ClientOf
) -> None:
    person = builders.make_person(password=PASSWORD)
    stolen = client_of(person)
    page = admin.post(f"/people/{person.pk}/password-link", follow=True)
    address = shown_address(page.content.decode())
    theirs = Client()
    assert person.sign_in_name in theirs.get(address).content.decode()
    assert theirs.post(address, {"password": "short"}).status_code == 422
    assert theirs.post(address, {"password": NEW})["Location"] == "/sign-in"
    typed = {"username": person.sign_in_name, "password": NEW}
    assert "The new password is kept" in theirs.get("/sign-in").content.decode()
    assert theirs.post("/sign-in", typed)["Location"] == "/"
    assert stolen.get("/").status_code == 302
    assert Client().post("/sign-in", typed | {"password": PASSWORD}).status_code == 200
    assert AuditRow.objects.filter(event="password_link.made").count() == 1
    assert "used with" in admin.get(f"/people/{person.pk}").content.decode()


def test_a_link_of_one_kind_does_nothing_of_the_other() -> None:
    code = invite("Ida Penn", [Role.MEMBER], act=builders.act()).code
    with pytest.raises(RefusedError, match="for something else"):
        set_password_by_link(code, NEW, device="a browser", at=builders.NOW)
    person = builders.make_person()
    link = make_password_link(person, act=builders.act())
    newcomer = Newcomer(sign_in_name="eve", name="Eve", password=NEW)
    with pytest.raises(RefusedError, match="for something else"):
        join_by_link(link.code, newcomer, device="a browser", at=builders.NOW)
    assert not HandedLink.objects.filter(used_at__isnull=False).exists()


def test_a_name_that_is_here_already_is_asked_about(admin: Client) -> None:
    other = builders.make_person(name="Ida Penn")
    for page in ("/people/invite", "/people/new"):
        typed = {"name": "ida penn", "roles": ["member"], "sign_in_name": "ida2"}
        asked = admin.post(page, typed | {"password": NEW})
        assert asked.status_code == 422
        words = asked.content.decode()
        assert f"is here already, as {other.sign_in_name}" in words
        assert 'type="checkbox" name="is_another"' in words
        told = admin.post(page, typed | {"password": NEW, "is_another": "on"})
        assert told.status_code == 302


def test_a_link_goes_by_mail_where_there_is_a_server(
    admin: Client, settings: Any
) -> None:
    assert "by mail" not in admin.get("/people/invite").content.decode()
    settings.MAIL_IS_SET = True
    page = invited(admin, mail_to="ida@example.org")
    assert "Sent to ida@example.org" in page
    person = builders.make_person()
    typed = {"mail_to": "bo@example.org"}
    admin.post(f"/people/{person.pk}/password-link", typed)
    first, second = mail.outbox
    assert shown_address(page) in first.body
    assert second.to == ["bo@example.org"]
    assert "within 10 minutes" in second.body
    # Nothing listens there: the link is handed over instead.
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    failed = invited(admin, name="Bo Trott", mail_to="bo@example.org")
    assert "The mail was not sent" in failed
    assert shown_address(failed)


class RefusingServer(socketserver.StreamRequestHandler):
    """A mail server that knows nobody: RFC 5321, section 4.2.3, code 550."""

    def handle(self) -> None:
        self.wfile.write(b"220 here\r\n")
        for line in self.rfile:
            is_to = line.upper().startswith(b"RCPT")
            answer = b"550 nobody of that name here" if is_to else b"250 well"
            self.wfile.write(answer + b"\r\n")


def test_what_a_mail_server_refuses_is_told_in_its_words(
    admin: Client, settings: Any
) -> None:
    settings.MAIL_IS_SET = True
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_USE_TLS, settings.EMAIL_HOST_USER = False, ""
    with socketserver.ThreadingTCPServer(("127.0.0.1", 0), RefusingServer) as server:
        server.daemon_threads = True
        threading.Thread(target=server.serve_forever, daemon=True).start()
        settings.EMAIL_HOST, settings.EMAIL_PORT = server.server_address[:2]
        page = invited(admin, mail_to="bo@example.org")
        server.shutdown()
    assert "The mail was not sent (nobody of that name here)." in page


@pytest.mark.parametrize("address", ["bo at example", "bo@example.org\nBcc: x@y.org"])
def test_a_password_link_is_mailed_to_an_address_alone(
    admin: Client, settings: Any, address: str
) -> None:
    settings.MAIL_IS_SET = True
    person = builders.make_person()
    typed = {"mail_to": address}
    page = admin.post(f"/people/{person.pk}/password-link", typed, follow=True)
    assert "Enter a valid email address." in page.content.decode()
    assert not HandedLink.objects.exists()
    assert not mail.outbox


def test_where_no_mail_is_set_up_an_address_is_not_read(admin: Client) -> None:
    person = builders.make_person()
    typed = {"mail_to": "bo@example.org"}
    page = admin.post(f"/people/{person.pk}/password-link", typed, follow=True)
    assert shown_address(page.content.decode())
    assert not mail.outbox


@pytest.mark.parametrize(
    ("address", "is_so"),
    [
        ("http://127.0.0.1:8000/link/x", True),
        ("http://localhost/link/x", True),
        ("http://192.168.1.20:8000/link/x", False),
        ("https://desk.example/link/x", False),
    ],
)
def test_an_address_of_this_computer_alone_is_known(
    address: str,
    is_so: bool,  # noqa: FBT001
) -> None:
    assert is_only_here(address) == is_so


def test_the_command_helps_the_last_admin_in() -> None:
    admin, out = builders.make_admin(), StringIO()
    call_command(
        "password_link", "founder", address="https://desk.example/", stdout=out
    )
    found = re.search(r"https://desk\.example(/link/[a-z0-9-]{19})\s", out.getvalue())
    assert found is not None
    assert Client().post(found[1], {"password": NEW})["Location"] == "/sign-in"
    admin.refresh_from_db()
    assert admin.check_password(NEW)
    with pytest.raises(CommandError, match="Nobody signs in as"):
        call_command("password_link", "nobody")
    Person.objects.filter(pk=admin.pk).update(is_active=False)
    with pytest.raises(CommandError, match="switched off"):
        call_command("password_link", "founder")


def test_the_command_helps_an_admin_in_who_has_lost_the_phone() -> None:
    admin, out = builders.make_admin(), StringIO()
    with pytest.raises(CommandError, match="no second factor to take"):
        call_command("password_link", "founder", without_second_factor=True)
    # Refused as a whole: no link is left that nobody was told of.
    assert not HandedLink.objects.exists()
    TOTPDevice.objects.create(user=admin, name="phone", confirmed=True)
    call_command("password_link", "founder", without_second_factor=True, stdout=out)
    found = re.search(r"(/link/[a-z0-9-]{19})\s", out.getvalue())
    assert found is not None
    client = Client()
    client.post(found[1], {"password": NEW})
    typed = {"username": "founder", "password": NEW}
    # By the password alone, where a code would be asked for on a page of its own.
    assert client.post("/sign-in", typed)["Location"] == "/"
    assert AuditRow.objects.filter(event="second_factor.taken", actor=None).exists()


def test_a_password_link_is_for_somebody() -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        HandedLink.objects.create(
            kind="password",
            code_sha256="x",
            made_at=timezone.now(),
            good_until=timezone.now(),
        )
