"""
How long a wrong password makes one wait (S8, S9).

The rows are the failures of the last day, in the database, so that every worker
counts the same and a restart forgets nothing.  After each fifth failure of one
person from one address both together wait: 5, 10, 20, 40, then 60 minutes, never
longer.  The same person gets in from another address meanwhile, and the same
address, which in a hall is everybody's, serves the others.
"""

import ipaddress
import math
import time
from datetime import datetime, timedelta
from typing import Any

from axes.handlers.database import AxesDatabaseHandler
from axes.models import AccessFailureLog
from django.conf import settings
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

FAILURES_BEFORE_WAIT = 5
FIRST_WAIT = timedelta(minutes=5)
LONGEST_WAIT = timedelta(minutes=60)
MEMORY = timedelta(days=1)

ADDRESS_CAP = 100  # failures a minute from one address
ADDRESS_SPAN = timedelta(minutes=1)

PERSON_CAP = 20  # failures of one person in a quarter of an hour, any address
PERSON_SPAN = timedelta(minutes=15)
SLOW_DOWN_S = 0.5


def wait_after(failure_count: int) -> timedelta:
    """Return the wait that this many failures bring; none before the fifth."""
    if failure_count < FAILURES_BEFORE_WAIT:
        return timedelta(0)
    doublings = min(failure_count // FAILURES_BEFORE_WAIT - 1, 10)
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
        name = typed_name(credentials)
        if failures(name=name, span=PERSON_SPAN).count() >= PERSON_CAP:
            time.sleep(SLOW_DOWN_S)
        return remaining_wait(request, name) > timedelta(0)

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
        now = timezone.now()
        AccessFailureLog.objects.filter(attempt_time__lt=now - MEMORY).delete()
        AccessFailureLog.objects.create(
            username=typed_name(credentials), ip_address=client_address(request) or None
        )
        if remaining_wait(request, typed_name(credentials)):
            request.axes_locked_out = True  # type: ignore[attr-defined]

    def user_logged_in(
        self, sender: object, request: HttpRequest, user: Any, **kwargs: object
    ) -> None:
        pair = {"name": user.get_username().casefold(), "span": MEMORY}
        failures(**pair).filter(ip_address=client_address(request) or None).delete()

    def user_logged_out(
        self, sender: object, request: HttpRequest, user: object, **kwargs: object
    ) -> None:
        """Nothing is counted at sign-out."""


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
    here = failures(span=ADDRESS_SPAN).filter(ip_address=address)
    if here.count() >= ADDRESS_CAP:
        return ADDRESS_SPAN
    times = list(
        failures(span=MEMORY, name=name)
        .filter(ip_address=address)
        .order_by("-attempt_time")
        .values_list("attempt_time", flat=True)
    )
    if not times:
        return timedelta(0)
    # The wait runs from the fifth, tenth, … failure, not from the last: the four
    # between two waits are free.
    since_last_wait = len(times) % FAILURES_BEFORE_WAIT
    if since_last_wait == len(times):
        return timedelta(0)
    until: datetime = times[since_last_wait] + wait_after(len(times))
    return max(until - timezone.now(), timedelta(0))


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
