"""A number for each request, a line for each answer, a name for each slow query."""

import logging
import secrets
import sys
import time
from collections.abc import Callable
from types import FrameType
from typing import Any, Final

from django.conf import settings
from django.db import connection
from django.http import HttpRequest, HttpResponse

from deploy.logs.lines import NUMBER_IN_META, request_number

HEADER: Final = "X-Request-Number"
LONGEST_QUERY_SHOWN: Final = 500
#: Pages asked every few seconds, and files: they would hide the rest.
NOT_WORTH_A_LINE: Final = ("/live", "/ready", "/static/")
_OURS: Final = ("inspection", "inventory", "deploy")

access = logging.getLogger("feelerbook.access")
slow = logging.getLogger("feelerbook.queries")


class NumberedRequests:
    """
    Number each request, and write down how it was answered and how long it took.

    The number is made here, whatever the browser sends: it is on the answer, in each
    line of the log that the request causes, and on the page that owns to a failure.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        token = request_number.set(number := secrets.token_hex(6))
        request.META[NUMBER_IN_META] = number
        begun = time.perf_counter()
        try:
            with connection.execute_wrapper(name_if_slow):
                response = self.get_response(request)
            response.headers[HEADER] = number
            if not request.path_info.startswith(NOT_WORTH_A_LINE):
                write_line(request, response, took_s=time.perf_counter() - begun)
            return response
        finally:
            request_number.reset(token)


def write_line(request: HttpRequest, response: HttpResponse, *, took_s: float) -> None:
    person = getattr(request, "user", None)
    facts = {
        "method": request.method,
        "route": route_of(request),
        "status": response.status_code,
        "ms": round(took_s * 1000),
        # The session is looked at only if the page has looked at it.
        "person": getattr(person, "pk", None) if is_known(request) else None,
    }
    access.info("%(method)s %(route)s %(status)s in %(ms)s ms", facts, extra=facts)


def route_of(request: HttpRequest) -> str:
    """Return the pattern of the address: a path may hold a code that opens a door."""
    match = request.resolver_match
    return f"/{match.route}" if match is not None else "no such page"


def is_known(request: HttpRequest) -> bool:
    """Tell whether the page asked who the visitor is; asking would cost a query."""
    return hasattr(request, "_cached_user")


def name_if_slow(
    execute: Callable[..., Any],
    sql: str,
    params: Any,
    many: bool,  # noqa: FBT001  Django calls it
    context: Any,
) -> Any:
    """Run a query; if it was slow, write down which it was and who asked it."""
    begun = time.perf_counter()
    try:
        return execute(sql, params, many, context)
    finally:
        took_s = time.perf_counter() - begun
        if took_s >= settings.SLOW_QUERY_S:
            # Without its parameters: they are what people have typed.
            slow.warning(
                "A query took %d ms in %s",
                took_s * 1000,
                asked_in(sys._getframe(1)),
                extra={"sql": str(sql)[:LONGEST_QUERY_SHOWN]},
            )


def asked_in(frame: FrameType | None) -> str:
    """Return the nearest function of the project's own that asked."""
    while frame is not None:
        module = frame.f_globals.get("__name__", "")
        is_ours = module.partition(".")[0] in _OURS
        if is_ours and not module.startswith("deploy.logs"):
            return f"{module}.{frame.f_code.co_name}:{frame.f_lineno}"
        frame = frame.f_back
    return "a package"
