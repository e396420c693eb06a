"""Where the club is shared, who may change most shows a second factor first."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import Resolver404, resolve, reverse
from django_htmx.http import HttpResponseClientRedirect
from django_otp import DEVICE_ID_SESSION_KEY

from inventory.access import visitor
from inventory.compute.roles import ROLES_WITH_SECOND_FACTOR

#: What is open without it: one's own account, where it is added, and the way out.
OPEN = frozenset(
    {
        "inventory:own_account",
        "inventory:second_factor",
        "inventory:link",
        "password_change",
        "password_changed",
        "sign_in",
        "sign_out",
    }
)


class SecondFactorAsked:
    """Send an admin or a chief who signed in by a password alone to add a factor."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if settings.SECOND_FACTOR_ASKED and is_missing(request):
            to = reverse("inventory:second_factor")
            if getattr(request, "htmx", None):
                return HttpResponseClientRedirect(to)
            return redirect(to)
        return self.get_response(request)


def is_missing(request: HttpRequest) -> bool:
    """Tell whether this page waits until a second factor was shown."""
    person = visitor(request)
    if person is None or request.session.get(DEVICE_ID_SESSION_KEY):
        return False
    if person.roles.isdisjoint(ROLES_WITH_SECOND_FACTOR):
        return False
    try:
        return resolve(request.path_info).view_name not in OPEN
    except Resolver404:
        return False
