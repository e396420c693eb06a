"""What a page says when the service failed, and whether to come again."""

import errno
import sqlite3
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from http import HTTPStatus

import psycopg
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.utils.translation import gettext_lazy as _

from deploy.logs.lines import request_number

FULL_ERRNOS = {errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)}
FULL_SQLSTATE = "53100"
# The lowest byte of SQLite's code is its kind; the rest says where.
SQLITE_AWAY = frozenset(
    {
        sqlite3.SQLITE_BUSY,
        sqlite3.SQLITE_LOCKED,
        sqlite3.SQLITE_CANTOPEN,
        sqlite3.SQLITE_IOERR,
        sqlite3.SQLITE_READONLY,
    }
)


@dataclass(frozen=True, kw_only=True)
class Failure:
    """What to tell the person, and when to come again."""

    status: HTTPStatus
    heading: object
    sentence: object
    again_after_s: int | None = None


FAULT = Failure(
    status=HTTPStatus.INTERNAL_SERVER_ERROR,
    heading=_("Something went wrong"),
    sentence=_(
        "The fault is the service's, not yours, and is written to its log. What was "
        "acknowledged before is kept."
    ),
)
AWAY = Failure(
    status=HTTPStatus.SERVICE_UNAVAILABLE,
    heading=_("The database does not answer"),
    sentence=_(
        "What was acknowledged before is kept. Try again in a few seconds, and look "
        "first whether this last thing was written."
    ),
    again_after_s=5,
)
FULL = Failure(
    status=HTTPStatus.INSUFFICIENT_STORAGE,
    heading=_("The disk is full"),
    sentence=_(
        "What was acknowledged before is kept. Make room on the computer that keeps "
        "the data, then look whether this last thing was written, and do it again if "
        "it was not."
    ),
    again_after_s=60,
)


def failure_of(error: BaseException | None) -> Failure:
    """Tell a full disk and an absent database from a fault of the code."""
    causes = list(chain(error))
    if any(is_full(cause) for cause in causes):
        return FULL
    return AWAY if any(is_away(cause) for cause in causes) else FAULT


def chain(error: BaseException | None) -> Iterator[BaseException]:
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        yield error
        error = error.__cause__ or error.__context__


def is_full(error: BaseException) -> bool:
    if isinstance(error, sqlite3.Error):
        return sqlite_kind(error) == sqlite3.SQLITE_FULL
    if isinstance(error, psycopg.Error):
        return error.sqlstate == FULL_SQLSTATE
    return isinstance(error, OSError) and error.errno in FULL_ERRNOS


def is_away(error: BaseException) -> bool:
    if isinstance(error, sqlite3.Error):
        return sqlite_kind(error) in SQLITE_AWAY
    # A wrong statement is neither of these two on PostgreSQL.
    away = (psycopg.OperationalError, psycopg.InterfaceError)
    if isinstance(error, away):
        return True
    # Django's own, without a driver's error behind it: a connection closed before.
    return isinstance(error, (InterfaceError, OperationalError)) and not error.__cause__


def sqlite_kind(error: sqlite3.Error) -> int:
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def server_error(request: HttpRequest) -> HttpResponse:
    """Answer for an exception that no page caught, wherever it was raised."""
    failure = failure_of(sys.exception())
    # Without a context of the request: its processors ask the database.
    page = render_to_string(
        "failure.html", {"failure": failure, "number": request_number.get()}
    )
    response = HttpResponse(page, status=failure.status)
    if failure.again_after_s is not None:
        response.headers["Retry-After"] = str(failure.again_after_s)
    return response
