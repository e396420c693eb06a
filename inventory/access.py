"""
Who may do what: a view names the ability it asks for, and so does a template.

Which roles have an ability stands in ``inventory.compute.roles`` alone.  A view
says with ``allow`` what its visitor must be able to do; a template asks ``may``,
as in ``{% if may.keep_parts %}``.  The matrix test fails on a view of these apps
that says nothing, and on a link or a button that leads its reader to a refusal.
"""

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase
from django.utils.functional import SimpleLazyObject

from inventory.compute.roles import Ability
from inventory.models import Person

P = ParamSpec("P")
R = TypeVar("R", bound=HttpResponseBase)


def signed_in(request: HttpRequest) -> Person:
    """Give the person behind a request that needed sign-in."""
    return cast("Person", request.user)


def allow(
    ability: Ability,
) -> Callable[
    [Callable[Concatenate[HttpRequest, P], R]], Callable[Concatenate[HttpRequest, P], R]
]:
    """Let a view answer only people who have the ability."""

    def decorate(
        view: Callable[Concatenate[HttpRequest, P], R],
    ) -> Callable[Concatenate[HttpRequest, P], R]:
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> R:
            if not signed_in(request).may(ability):
                raise PermissionDenied
            return view(request, *args, **kwargs)

        guarded.asks_for = ability  # type: ignore[attr-defined]
        return guarded

    return decorate


def open_to_all(
    view: Callable[Concatenate[HttpRequest, P], R],
) -> Callable[Concatenate[HttpRequest, P], R]:
    """Let a view answer strangers too; its name stands in ``PUBLIC_ROUTES``."""
    view.asks_for = None  # type: ignore[attr-defined]
    return view


def visitor(request: HttpRequest) -> Person | None:
    """Give the person behind a request, if there is one that has signed in."""
    return signed_in(request) if request.user.is_authenticated else None


def abilities(request: HttpRequest) -> dict[str, object]:
    """Give every template ``may``: its reader's abilities, asked for when read."""
    return {"may": SimpleLazyObject(lambda: abilities_of(visitor(request)))}


def abilities_of(person: Person | None) -> Mapping[str, bool]:
    """Tell of each ability, by its name, whether a person has it."""
    return {
        ability.name.lower(): person is not None and person.may(ability)
        for ability in Ability
    }
