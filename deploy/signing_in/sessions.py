"""
How long a sign-in lasts: by role, unused and in all; and that no page of it is kept.

============================  ==========  =========
held role                     unused      in all
============================  ==========  =========
member alone                  14 days     30 days
any other                     60 minutes  12 hours
============================  ==========  =========

A member looks at their own cars on their own phone.  The others write what stands as
evidence, on tablets that lie about in a hall: an evening is what they need, and an
hour is the longest break between two races.  A page that asks for news by itself
counts as use, and does so only while it is shown.
"""

import datetime as dt
import secrets
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any, cast

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.cache import patch_cache_control

from inventory.compute.devices import device_words
from inventory.compute.roles import Role
from inventory.models import OpenSession

IDLE, END = "idle_s", "ends_at"
MARK, DEVICE, ADDRESS, BEGAN = "mark", "device", "address", "began_at"
#: What is written when a session is used, as a part of the time it may be idle.
TOUCHED_AFTER = 1 / 20


@dataclass(frozen=True, kw_only=True)
class Age:
    idle: dt.timedelta
    whole: dt.timedelta


MEMBER = Age(idle=dt.timedelta(days=14), whole=dt.timedelta(days=30))
DESK = Age(idle=dt.timedelta(minutes=60), whole=dt.timedelta(hours=12))
AGES = {
    Role.MEMBER: MEMBER,
    Role.SCRUTINEER: DESK,
    Role.PARTS_KEEPER: DESK,
    Role.CHIEF_SCRUTINEER: DESK,
    Role.ADMIN: DESK,
}


def age_of(roles: Iterable[Role]) -> Age:
    """Give the shortest age among the roles held; without one, a member's."""
    ages = [AGES[role] for role in roles] or [MEMBER]
    return min(ages, key=lambda age: age.idle)


class SessionStore(DatabaseStore):
    """A session in the database whose row ends when it was idle, or old, enough."""

    row_ends_at: dt.datetime | None = None

    @classmethod
    def get_model_class(cls) -> type[OpenSession]:
        return OpenSession

    def create_model_instance(self, data: dict[str, Any]) -> OpenSession:
        """Say in the row whose session it is, and where it was begun."""
        row = cast("OpenSession", super().create_model_instance(data))
        if MARK in data and SESSION_KEY in data:
            row.person_id = int(data[SESSION_KEY])
            row.mark, row.device = data[MARK], data[DEVICE]
            row.address = data[ADDRESS]
            row.began_at = dt.datetime.fromtimestamp(data[BEGAN], tz=dt.UTC)
        return row

    def _get_session_from_db(self) -> OpenSession | None:
        row: OpenSession | None = super()._get_session_from_db()  # type: ignore[misc]
        self.row_ends_at = row.expire_date if row else None
        return row

    def get_expiry_date(self, **kwargs: Any) -> dt.datetime:
        if END not in self:
            return super().get_expiry_date(**kwargs)
        idle_until = timezone.now() + dt.timedelta(seconds=self[IDLE])
        return min(idle_until, dt.datetime.fromtimestamp(self[END], tz=dt.UTC))

    def begin(self, age: Age, *, user_agent: str, address: str) -> None:
        """Say how long this session lasts, and clean away those that have ended."""
        now = timezone.now()
        self[IDLE] = age.idle.total_seconds()
        self[END] = (now + age.whole).timestamp()
        self[MARK] = secrets.token_hex(6)
        self[DEVICE], self[ADDRESS] = device_words(user_agent), address
        self[BEGAN] = now.timestamp()
        self.clear_expired()

    def touch(self) -> None:
        """Keep a session that is used, without a write at each request."""
        if END not in self or self.row_ends_at is None:
            return
        until = self.get_expiry_date()
        if until - self.row_ends_at < dt.timedelta(seconds=self[IDLE] * TOUCHED_AFTER):
            return
        try:
            OpenSession.objects.filter(pk=self.session_key).update(expire_date=until)
        except DatabaseError:
            # A full disk keeps nobody from reading.
            return


class SignedInPages:
    """Keep the session of somebody who uses it, and let no browser keep their pages."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        # Where the service failed, its database is not asked once more.
        if response.status_code >= HTTPStatus.INTERNAL_SERVER_ERROR:
            return response
        if request.user.is_authenticated:
            cast("SessionStore", request.session).touch()
            # What one person was shown is not for the next at the same tablet.
            patch_cache_control(response, no_store=True, private=True)
        return response
