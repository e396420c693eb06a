"""One change of a thing at a time, from reading what stands to writing it anew."""

import functools
import zlib
from collections.abc import Callable
from typing import Any

from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse

View = Callable[..., HttpResponse]


def in_turn(view: View) -> View:
    """
    Let what is sent to one address be taken one after another.

    What was seen is compared with what stands, and only then written over: between
    the two nobody else may write.  SQLite has one writer at a time; PostgreSQL is
    given the address as a lock, which ends with the transaction.
    """

    @functools.wraps(view)
    def taken(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        with transaction.atomic():
            if connection.vendor == "postgresql":
                number = zlib.crc32(request.path_info.encode())
                with connection.cursor() as cursor:
                    cursor.execute("SELECT pg_advisory_xact_lock(%s)", [number])
            return view(request, *args, **kwargs)

    return taken
