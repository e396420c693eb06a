"""
Operations: what an address does with a method, declared once.

A function does it; the decorator over it says who may, what it takes and gives.  The
view, the description, the documentation and the tests read it from there.
"""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Final

from django_filters import FilterSet
from rest_framework.request import Request

from inventory.actions.audit import Act
from inventory.api.foundation.cursors import Order
from inventory.api.foundation.shapes import Gives, Takes
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope
from inventory.models import Person


@dataclass(frozen=True, kw_only=True)
class Call:
    """One request: who asks and when, and what was said, read and checked."""

    request: Request
    act: Act
    said: Mapping[str, Any] = field(default_factory=dict)

    @property
    def person(self) -> Person:
        return self.act.by


class Form(StrEnum):
    """In what form an operation answers."""

    ONE = "one"
    ALL = "all"
    PAGES = "pages"
    NOTHING = "nothing"
    FILE = "file"


@dataclass(frozen=True, kw_only=True)
class Ending:
    """An operation that will go: since when it should not be used, and its end."""

    since: dt.datetime
    ends: dt.datetime


@dataclass(frozen=True, kw_only=True)
class Operation:
    """What one method of one address does."""

    do: Callable[..., Any]
    asks: Ability
    form: Form
    scope: Scope = Scope.READ
    gives: type[Gives] | None = None
    takes: type[Takes] | None = None
    #: What a GET may say in its query.
    query: type[Takes] | None = None
    status: int = 200
    order: Order | None = None
    filters: type[FilterSet] | None = None
    #: Makes of a page's rows what ``gives`` writes.
    load: Callable[[Call, list[Any]], Sequence[Any]] | None = None
    #: What is written with If-Match: reads its state, locked.
    guarded_by: "Operation | None" = None
    locks: Callable[..., object] | None = None
    is_upload: bool = False
    example: Mapping[str, Any] | None = None
    media: str = "application/json"
    ending: Ending | None = None

    @property
    def name(self) -> str:
        return self.do.__name__

    @property
    def words(self) -> str:
        return (self.do.__doc__ or "").strip()

    @property
    def is_list(self) -> bool:
        """Whether it reads rows that may go out as a file as well."""
        return self.form in {Form.PAGES, Form.ALL} and self.scope is Scope.READ

    @property
    def is_write(self) -> bool:
        return self.form is not Form.PAGES and self.scope is not Scope.READ


_Do = Callable[..., Any]
Declared = Callable[[_Do], Operation]
SENDS_NOTHING: Final = 204
MADE: Final = 201


def reads(gives: type[Gives], *, asks: Ability = Ability.LOOK, **more: Any) -> Declared:
    """Declare what gives one thing."""
    return lambda do: Operation(do=do, asks=asks, form=Form.ONE, gives=gives, **more)


def reads_all(
    gives: type[Gives], *, asks: Ability = Ability.LOOK, **more: Any
) -> Declared:
    """Declare what gives a short list, whole."""
    return lambda do: Operation(do=do, asks=asks, form=Form.ALL, gives=gives, **more)


def lists(
    gives: type[Gives],
    *,
    order: Order,
    asks: Ability = Ability.LOOK,
    **more: Any,
) -> Declared:
    """Declare what gives a list, page by page; its function gives the rows."""
    return lambda do: Operation(
        do=do, asks=asks, form=Form.PAGES, gives=gives, order=order, **more
    )


def writes(
    gives: type[Gives],
    *,
    asks: Ability,
    scope: Scope,
    takes: type[Takes] | None = None,
    status: int = 200,
    form: Form = Form.ONE,
    **more: Any,
) -> Declared:
    """Declare what writes by one action and gives what became of it."""
    return lambda do: Operation(
        do=do,
        asks=asks,
        scope=scope,
        takes=takes,
        gives=gives,
        status=status,
        form=form,
        **more,
    )


def makes(gives: type[Gives], **more: Any) -> Declared:
    """Declare what makes something new."""
    return writes(gives, status=MADE, **more)


def ends(*, asks: Ability, scope: Scope, **more: Any) -> Declared:
    """Declare what takes something away."""
    return lambda do: Operation(
        do=do, asks=asks, scope=scope, form=Form.NOTHING, status=SENDS_NOTHING, **more
    )


def sends(media: str, *, asks: Ability = Ability.LOOK, **more: Any) -> Declared:
    """Declare what sends a file: its function gives the whole response."""
    return lambda do: Operation(do=do, asks=asks, form=Form.FILE, media=media, **more)
