"""Who comes in without signing in, the clock, and what a page uses of the device."""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta, tzinfo
from functools import cached_property
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import BadRequest
from django.http import (
    Http404,
    HttpRequest,
    HttpResponse,
    HttpResponseBase,
    QueryDict,
)
from django.shortcuts import resolve_url
from django.utils import timezone
from django_htmx.http import HttpResponseClientRedirect
from rest_framework.views import APIView

from deploy.starting.applications import is_utf8
from inventory.compute.numbers import Written, writing
from inventory.loaders.clocks import club_zone, kept_ways

NUL = "\0"
View = Callable[..., HttpResponseBase]


class SignInRequired(LoginRequiredMiddleware):
    """
    Send a stranger to the sign-in page, unless the route is on the public list.

    The list is ``settings.PUBLIC_ROUTES`` and nothing else: a decorator on a view
    opens nothing.  Views of the API stand outside because they answer 401 by
    themselves and know tokens, of which a session knows nothing.
    """

    def process_view(
        self,
        request: HttpRequest,
        view_func: View,
        view_args: object,
        view_kwargs: object,
    ) -> HttpResponseBase | None:
        match = request.resolver_match
        if match is not None and match.view_name in settings.PUBLIC_ROUTES:
            return None
        if issubclass(getattr(view_func, "cls", object), APIView):
            return None
        if request.user.is_authenticated:
            return None
        if getattr(request, "htmx", None):
            return leave_the_page(request)
        return self.handle_no_permission(request, view_func)


def leave_the_page(request: HttpRequest) -> HttpResponse:
    """Tell htmx to go to the sign-in page, not to put it inside the one it has."""
    here = request.htmx.current_url_abs_path or "/"  # type: ignore[attr-defined]
    to = redirect_to_login(here, resolve_url(settings.LOGIN_URL))
    return HttpResponseClientRedirect(to.url)


class ClubZone(tzinfo):
    """The club's time zone, looked up when the first time of a page is written."""

    @cached_property
    def zone(self) -> ZoneInfo:
        return club_zone()

    def __str__(self) -> str:
        return self.zone.key

    def utcoffset(self, at: datetime | None) -> timedelta | None:
        return self.zone.utcoffset(at)

    def dst(self, at: datetime | None) -> timedelta | None:
        return self.zone.dst(at)

    def tzname(self, at: datetime | None) -> str | None:
        return self.zone.tzname(at)

    def fromutc(self, at: datetime) -> datetime:
        return self.zone.fromutc(at.replace(tzinfo=self.zone)).replace(tzinfo=self)


class ClubTime:
    """Let a page go by the club's clock, wherever the server stands."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with timezone.override(ClubZone()):
            return self.get_response(request)


class ClubFigures:
    """Let a page write its numbers as the club does; asked for with the first one."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with writing(club_figures):
            return self.get_response(request)


def club_figures() -> Written:
    ways = kept_ways()
    return Written(decimal_sign=ways.decimal_sign, lengths_in=ways.lengths_in)


class OnlyUtf8:
    """Refuse a request that says it is written in anything but UTF-8."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not is_utf8(request):
            msg = "The request is not written in UTF-8"
            raise BadRequest(msg)
        return self.get_response(request)


class NoNulCharacter:
    """
    Refuse a request with a character of which PostgreSQL can keep nothing.

    No keyboard types it.  In the path there is no such page; in a query, a form or a
    cookie the request is malformed.  A file may hold what it likes.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if NUL in request.path_info:
            raise Http404
        cookies = request.META.get("HTTP_COOKIE", "")
        if NUL in cookies or any(is_nul_in(form) for form in forms_of(request)):
            msg = "A NUL character in the request"
            raise BadRequest(msg)
        return self.get_response(request)


def forms_of(request: HttpRequest) -> Iterator[QueryDict]:
    """Yield what came as a query or as a form without files."""
    yield request.GET
    if request.content_type == "application/x-www-form-urlencoded":
        yield request.POST


def is_nul_in(form: QueryDict) -> bool:
    return any(NUL in name or any(NUL in v for v in vs) for name, vs in form.lists())


class PermissionsPolicy:
    """Let a page use the camera, to read labels, and nothing else of the device."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers["Permissions-Policy"] = settings.PERMISSIONS_POLICY
        return response
