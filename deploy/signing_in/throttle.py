"""
How long a wrong password makes one wait (S8, S9).

The rows are the failures and the sign-ins of the last day, in the database, so that
every worker counts the same and a restart forgets nothing.  After each fifth failure
of one person from one address both together wait: 5, 10, 20, 40, then 60 minutes,
never longer.  The same person gets in from another address meanwhile, and the same
address, which in a hall is everybody's, serves the others.

A person who is tried from many addresses is guarded: each address waits after its
second failure, and one that has none yet is let in.  An address waits as a whole
only where more names are tried in a minute than a club has people, and never while
somebody has signed in there rightly.  A wait is said, not slept: the thread that
answers is free for the next.
"""

import ipaddress
import math
from datetime import datetime, timedelta
from typing import Any, cast

from axes.handlers.database import AxesDatabaseHandler
from axes.models import AccessFailureLog, AccessLog
from django.conf import settings
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from deploy.signing_in.sessions import SessionStore, age_of
from inventory.actions.audit import Act
from inventory.actions.people.sign_in import (
    record_failure,
    record_sign_in,
    record_sign_out,
)
from inventory.models import Person

FAILURES_BEFORE_WAIT = 5
FIRST_WAIT = timedelta(minutes=5)
LONGEST_WAIT = timedelta(minutes=60)
MEMORY = timedelta(days=1)

# Failures of one person in a quarter of an hour, whatever the address.
GUARDED_FROM = 20
GUARDED_SPAN = timedelta(minutes=15)
FAILURES_WHILE_GUARDED = 2

# Names tried from one address in a minute; a club has 20 to 200 people.
NAMES_FROM_ONE_ADDRESS = 250
ADDRESS_SPAN = timedelta(minutes=1)
# As long as an evening: who signed in at six vouches for the hall until the end.
VOUCHED_SPAN = timedelta(hours=12)


def wait_after(
    failure_count: int, *, free_count: int = FAILURES_BEFORE_WAIT
) -> timedelta:
    """Return the wait that this many failures bring; none before the last free one."""
    if failure_count < free_count:
        return timedelta(0)
    doublings = min(failure_count // free_count - 1, 10)
    return min(FIRST_WAIT * int(2**doublings), LONGEST_WAIT)


def client_address(request: HttpRequest) -> str:
    """Return the address behind the proxies that are trusted, and no others."""
    address = str(request.META.get("REMOTE_ADDR") or "")
    forwarded = str(request.META.get("HTTP_X_FORWARDED_FOR") or "")
    for hop in reversed(forwarded.split(",")):
        if address not in settings.TRUSTED_PROXIES or not is_address(hop.strip()):
            break
        address = hop.strip()
    return address


def is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


class DoublingWaitHandler(AxesDatabaseHandler):  # type: ignore[misc]
    """Count failures a person and address; ask before, and record after, each try."""

    def is_locked(
        self, request: HttpRequest, credentials: dict[str, Any] | None = None
    ) -> bool:
        return remaining_wait(request, typed_name(credentials)) > timedelta(0)

    def user_login_failed(
        self,
        sender: object,
        credentials: dict[str, Any],
        request: HttpRequest | None = None,
        **kwargs: object,
    ) -> None:
        # A try during the wait is not counted: it was never looked at, and
        # counting it would let anyone lengthen the wait of another.
        if request is None:
            return
        request.axes_credentials = credentials  # type: ignore[attr-defined]
        if getattr(request, "axes_locked_out", False):
            return
        now, name = timezone.now(), typed_name(credentials)
        address = client_address(request)
        AccessFailureLog.objects.filter(attempt_time__lt=now - MEMORY).delete()
        AccessFailureLog.objects.create(username=name, ip_address=address or None)
        wait = remaining_wait(request, name)
        record_failure(name, at=now, address=address, wait=wait)
        if wait:
            request.axes_locked_out = True  # type: ignore[attr-defined]

    def user_logged_in(
        self, sender: object, request: HttpRequest, user: Any, **kwargs: object
    ) -> None:
        now, address = timezone.now(), client_address(request)
        pair = {"name": user.get_username().casefold(), "span": MEMORY}
        failures(**pair).filter(ip_address=address or None).delete()
        AccessLog.objects.filter(attempt_time__lt=now - MEMORY).delete()
        AccessLog.objects.create(ip_address=address or None)
        cast("SessionStore", request.session).begin(
            age_of(user.roles),
            user_agent=request.META.get("HTTP_USER_AGENT", ""),
            address=address,
        )
        record_sign_in(act=Act(by=user, at=now), address=address)

    def user_logged_out(
        self, sender: object, request: HttpRequest, user: object, **kwargs: object
    ) -> None:
        if isinstance(user, Person):
            record_sign_out(act=Act(by=user, at=timezone.now()))


def failures(
    *, span: timedelta, name: str | None = None
) -> "QuerySet[AccessFailureLog]":
    rows: QuerySet[AccessFailureLog] = AccessFailureLog.objects.filter(
        attempt_time__gt=timezone.now() - span
    )
    return rows if name is None else rows.filter(username=name)


def remaining_wait(request: HttpRequest, name: str) -> timedelta:
    """Return how long this person has still to wait at this address."""
    address = client_address(request) or None
    if is_sprayed(address):
        return ADDRESS_SPAN
    times: list[datetime] = list(
        failures(span=MEMORY, name=name)
        .filter(ip_address=address)
        .order_by("-attempt_time")
        .values_list("attempt_time", flat=True)
    )
    if not times:
        return timedelta(0)
    free_count = FAILURES_WHILE_GUARDED if is_guarded(name) else FAILURES_BEFORE_WAIT
    # The wait runs from the fifth, tenth, … failure, not from the last: the four
    # between two waits are free.
    since_last_wait = len(times) % free_count
    if since_last_wait == len(times):
        return timedelta(0)
    until = times[since_last_wait] + wait_after(len(times), free_count=free_count)
    return max(until - timezone.now(), timedelta(0))


def is_guarded(name: str) -> bool:
    """Whether this person is being tried from wherever, more than a person errs."""
    return failures(name=name, span=GUARDED_SPAN).count() >= GUARDED_FROM


def is_sprayed(address: str | None) -> bool:
    """Whether more names are tried from here than a hall has, and nobody vouches."""
    here = failures(span=ADDRESS_SPAN).filter(ip_address=address)
    names = here.order_by().values("username").distinct()
    if names.count() < NAMES_FROM_ONE_ADDRESS:
        return False
    since = timezone.now() - VOUCHED_SPAN
    vouching = AccessLog.objects.filter(ip_address=address, attempt_time__gt=since)
    return not vouching.exists()


def typed_name(credentials: dict[str, Any] | None) -> str:
    """Return the name as typed, one form for each way of writing it."""
    typed = (credentials or {}).get("username") or ""
    return str(typed).casefold().replace("\0", "")[:255]


def locked_out(
    request: HttpRequest, response: HttpResponse, credentials: dict[str, Any] | None
) -> HttpResponse:
    """Say how long to wait, the same whether or not such a person exists."""
    wait = remaining_wait(request, typed_name(credentials)) or timedelta(seconds=1)
    seconds = math.ceil(wait.total_seconds())
    context = {"minutes": math.ceil(seconds / 60)}
    page = render(request, "registration/wait.html", context, status=429)
    page.headers["Retry-After"] = str(seconds)
    return page
