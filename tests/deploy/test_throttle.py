"""How long a wrong password makes one wait (S8, S9, S31): scripted attacks."""

import time
from datetime import timedelta
from typing import Any

import pytest
from axes.models import AccessFailureLog, AccessLog
from django.db.models import F
from django.test import Client, RequestFactory, override_settings

from deploy.signing_in.throttle import (
    NAMES_FROM_ONE_ADDRESS,
    VOUCHED_SPAN,
    client_address,
    wait_after,
)
from inventory.models import Person
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db
HALL, HOME = "192.0.2.1", "198.51.100.9"


def attempt(name: str, word: str, *, address: str = HALL) -> Any:
    """Sign in from a browser that keeps nothing between two tries."""
    typed = {"username": name, "password": word}
    return Client().post("/sign-in", typed, REMOTE_ADDR=address)


def fail(name: str, times: int, *, address: str = HALL) -> None:
    for _ in range(times):
        attempt(name, "wrong", address=address)


def let_pass(minutes: float) -> None:
    """Make every failure so much older, as if that time had passed."""
    AccessFailureLog.objects.update(
        attempt_time=F("attempt_time") - timedelta(minutes=minutes)
    )


def make_person(name: str) -> Person:
    member = Person(sign_in_name=name, name=name, joined_at="2026-01-01T00:00Z")
    member.set_password(PASSWORD)
    member.save()
    return member


def test_waits_double_from_five_minutes_to_an_hour_and_no_further() -> None:
    minutes = [wait_after(n).total_seconds() / 60 for n in range(31)]
    assert minutes[:5] == [0] * 5
    assert minutes[5::5] == [5, 10, 20, 40, 60, 60]
    assert wait_after(10**9) == timedelta(minutes=60)


def test_four_failures_are_free_and_the_fifth_waits(person: Person) -> None:
    fail("rosa", 4)
    assert attempt("rosa", "wrong").status_code == 429
    refused = attempt("rosa", PASSWORD)
    assert refused.status_code == 429
    assert 295 <= int(refused["Retry-After"]) <= 300
    assert "Try again in 5 minutes" in refused.content.decode()


def test_the_wait_ends_by_itself_and_the_next_is_twice_as_long(person: Person) -> None:
    fail("rosa", 5)
    let_pass(minutes=4.9)
    assert attempt("rosa", PASSWORD).status_code == 429
    let_pass(minutes=0.2)
    fail("rosa", 5)
    let_pass(minutes=9.8)
    assert attempt("rosa", PASSWORD).status_code == 429
    let_pass(minutes=0.3)
    assert attempt("rosa", PASSWORD).status_code == 302


def test_tries_during_a_wait_do_not_lengthen_it(person: Person) -> None:
    fail("rosa", 5 + 20)
    assert AccessFailureLog.objects.count() == 5
    let_pass(minutes=5.1)
    assert attempt("rosa", PASSWORD).status_code == 302


def test_a_right_password_forgets_the_failures_before_it(person: Person) -> None:
    fail("rosa", 4)
    assert attempt("ROSA", PASSWORD).status_code == 302
    fail("rosa", 4)
    assert attempt("rosa", PASSWORD).status_code == 302


def test_another_way_of_writing_the_name_counts_as_the_same(person: Person) -> None:
    for name in ("rosa", "Rosa", "ROSA", "rOsa", "roSa"):
        attempt(name, "wrong")
    assert attempt("rosa", PASSWORD).status_code == 429


def test_the_person_gets_in_from_elsewhere_during_an_attack(person: Person) -> None:
    fail("rosa", 50)
    assert attempt("rosa", PASSWORD, address=HOME).status_code == 302


def test_attack_from_many_addresses_slows_each_and_never_shuts_out(
    person: Person,
) -> None:
    for n in range(5):
        fail("rosa", 4, address=f"203.0.113.{n}")
    # Guarded: an address that errs twice waits, one that has not erred does not.
    assert attempt("rosa", "wrong", address=HALL).status_code == 200
    assert attempt("rosa", "wrong", address=HALL).status_code == 429
    assert attempt("rosa", PASSWORD, address=HOME).status_code == 302
    let_pass(minutes=16)
    assert attempt("rosa", PASSWORD, address=HALL).status_code == 302


def test_no_thread_sleeps_over_a_wrong_password(
    person: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(seconds: float) -> None:
        raise AssertionError(seconds)

    monkeypatch.setattr(time, "sleep", refuse)
    for n in range(6):
        fail("rosa", 5, address=f"203.0.113.{n}")
    assert attempt("rosa", PASSWORD, address=HOME).status_code == 302


def test_a_hall_of_forty_at_one_address_gets_in_while_one_fails(person: Person) -> None:
    others = [make_person(f"member-{n}") for n in range(39)]
    fail("rosa", 50)
    codes = [attempt(p.sign_in_name, PASSWORD).status_code for p in others]
    assert codes == [302] * 39


def test_108_wrong_tries_under_many_names_keep_nobody_out(person: Person) -> None:
    others = [make_person(f"member-{n}") for n in range(39)]
    names = [p.sign_in_name for p in others] + [f"guess-{n}" for n in range(69)]
    for name in names:
        attempt(name, "wrong")
    assert AccessFailureLog.objects.count() == 108
    codes = [attempt(p.sign_in_name, PASSWORD).status_code for p in [person, *others]]
    assert codes == [302] * 40


def spray(name_count: int, *, times: int = 1) -> None:
    """Write failures of so many names at the hall, as wrong passwords would."""
    AccessFailureLog.objects.bulk_create(
        AccessFailureLog(username=f"guess-{n}", ip_address=HALL)
        for n in range(name_count)
        for _ in range(times)
    )


def test_a_spray_over_more_names_than_a_club_has_waits_at_its_address(
    person: Person,
) -> None:
    spray(NAMES_FROM_ONE_ADDRESS)
    refused = attempt("rosa", PASSWORD)
    assert refused.status_code == 429
    assert 50 <= int(refused["Retry-After"]) <= 60
    assert attempt("rosa", PASSWORD, address=HOME).status_code == 302
    let_pass(minutes=1.1)
    assert attempt("rosa", PASSWORD).status_code == 302


def test_names_are_counted_and_not_tries(person: Person) -> None:
    spray(NAMES_FROM_ONE_ADDRESS - 1, times=5)
    assert attempt("rosa", PASSWORD).status_code == 302


def test_an_address_where_somebody_signed_in_rightly_is_never_locked(
    person: Person,
) -> None:
    late = make_person("late")
    assert attempt("rosa", PASSWORD).status_code == 302
    spray(2 * NAMES_FROM_ONE_ADDRESS)
    assert attempt(late.sign_in_name, PASSWORD).status_code == 302
    # By the next evening nobody vouches any more.
    AccessLog.objects.update(attempt_time=F("attempt_time") - VOUCHED_SPAN)
    assert attempt("rosa", PASSWORD).status_code == 429


def test_sign_ins_of_another_day_are_forgotten(person: Person) -> None:
    attempt("rosa", PASSWORD)
    AccessLog.objects.update(attempt_time=F("attempt_time") - timedelta(hours=25))
    attempt("rosa", PASSWORD)
    assert AccessLog.objects.count() == 1


def test_unknown_and_known_names_get_the_same_answer(person: Person) -> None:
    for name in ("rosa", "nobody"):
        fail(name, 4)
    pages = [attempt(name, "wrong") for name in ("rosa", "nobody")]
    assert [page.status_code for page in pages] == [429, 429]
    assert len({page.content for page in pages}) == 1


def test_failures_are_forgotten_after_a_day() -> None:
    fail("rosa", 5)
    let_pass(minutes=24 * 60 + 1)
    fail("other", 1)
    assert AccessFailureLog.objects.get().username == "other"


@pytest.mark.parametrize(
    "name", ["", "n" * 400, "n" * 100_000, "ß" * 100_000, "Robert'); --"]
)
def test_odd_names_are_refused_as_any_other(name: str) -> None:
    assert attempt(name, "wrong").status_code == 200


@pytest.mark.parametrize(
    ("peer", "forwarded", "address"),
    [
        ("198.51.100.9", "", "198.51.100.9"),
        ("198.51.100.9", "203.0.113.5", "198.51.100.9"),  # not from a proxy
        ("127.0.0.1", "203.0.113.5", "203.0.113.5"),
        ("127.0.0.1", "10.9.9.9, 203.0.113.5", "203.0.113.5"),  # forged first hop
        ("127.0.0.1", "203.0.113.5, 127.0.0.2", "203.0.113.5"),
        ("127.0.0.1", "not an address", "127.0.0.1"),
        ("127.0.0.1", "2001:db8::7", "2001:db8::7"),
        ("127.0.0.1", "", "127.0.0.1"),
    ],
)
def test_forwarded_address_is_believed_from_own_proxies_only(
    peer: str, forwarded: str, address: str
) -> None:
    headers = {"x-forwarded-for": forwarded} if forwarded else {}
    request = RequestFactory(headers=headers).get("/", REMOTE_ADDR=peer)
    with override_settings(TRUSTED_PROXIES=frozenset({"127.0.0.1", "127.0.0.2"})):
        assert client_address(request) == address
