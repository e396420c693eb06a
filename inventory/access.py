"""
Who may do what, in one place: views and API read it, the matrix test walks it.

A view says with ``allow`` which roles it is for; the matrix test fails on a view
of these apps that says nothing.
"""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, Final, ParamSpec, TypeVar, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase

from inventory.compute.roles import Role
from inventory.models import Person

P = ParamSpec("P")
R = TypeVar("R", bound=HttpResponseBase)

ANYONE_SIGNED_IN: Final = frozenset(Role)
SCRUTINEERS: Final = frozenset({Role.SCRUTINEER, Role.CHIEF_SCRUTINEER})
CHIEF: Final = frozenset({Role.CHIEF_SCRUTINEER})
KEEPERS: Final = frozenset({Role.PARTS_KEEPER})
GAUGERS: Final = SCRUTINEERS | KEEPERS
ADMINS: Final = frozenset({Role.ADMIN})
RESERVERS: Final = frozenset(
    {
        Role.MEMBER,
        Role.SCRUTINEER,
        Role.CHIEF_SCRUTINEER,
        Role.PARTS_KEEPER,
    }
)


def signed_in(request: HttpRequest) -> Person:
    """Give the person behind a request that needed sign-in."""
    return cast("Person", request.user)


def allow(
    roles: frozenset[Role],
) -> Callable[
    [Callable[Concatenate[HttpRequest, P], R]], Callable[Concatenate[HttpRequest, P], R]
]:
    """Let a view answer only people who hold one of the roles."""

    def decorate(
        view: Callable[Concatenate[HttpRequest, P], R],
    ) -> Callable[Concatenate[HttpRequest, P], R]:
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> R:
            if not signed_in(request).has_role(*roles):
                raise PermissionDenied
            return view(request, *args, **kwargs)

        guarded.allowed_roles = roles  # type: ignore[attr-defined]
        return guarded

    return decorate


def open_to_all(
    view: Callable[Concatenate[HttpRequest, P], R],
) -> Callable[Concatenate[HttpRequest, P], R]:
    """Let a view answer strangers too; its name stands in ``PUBLIC_ROUTES``."""
    view.allowed_roles = None  # type: ignore[attr-defined]
    return view


def visitor(request: HttpRequest) -> Person | None:
    """Give the person behind a request, if there is one that has signed in."""
    return signed_in(request) if request.user.is_authenticated else None
