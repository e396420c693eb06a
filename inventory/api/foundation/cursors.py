"""Pages of a list by a cursor: what comes in meanwhile shifts nothing."""

import base64
import binascii
import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q, QuerySet

from inventory.api.foundation.problems import FieldError, ProblemError

ROWS_A_PAGE: Final = 50
MOST_ROWS: Final = 200
#: What is raised where a cursor is read that we never wrote.
_NO_CURSOR: Final = (
    ValueError,
    TypeError,
    OverflowError,
    RecursionError,
    ValidationError,
    binascii.Error,
)


@dataclass(frozen=True, kw_only=True)
class Order:
    """
    How a list may be ordered: the words of ``ordering`` and their columns.

    The first is the usual one.  Ties go by the key.
    """

    columns: Mapping[str, str]
    usual: str

    @property
    def words(self) -> list[str]:
        return [sign + word for word in self.columns for sign in ("", "-")]


@dataclass(frozen=True, kw_only=True)
class PageOfRows:
    """Rows, and the cursor of the next page, empty on the last."""

    rows: list[Any]
    cursor: str


def page_of(
    rows: QuerySet[Any], order: Order, *, word: str, cursor: str, limit: int
) -> PageOfRows:
    """Give one page of a list from a cursor on."""
    is_down = word.startswith("-")
    column = order.columns[word.removeprefix("-")]
    sign = "-" if is_down else ""
    ordered = rows.order_by(f"{sign}{column}", f"{sign}pk")
    if cursor:
        value, key = _position(rows.model, column, cursor)
        way = "lt" if is_down else "gt"
        beyond = Q(**{f"{column}__{way}": value}) | Q(
            **{column: value, f"pk__{way}": key}
        )
        ordered = ordered.filter(beyond)
    ahead = list(ordered[: limit + 1])
    more = ahead[limit:]
    shown = ahead[:limit]
    last = _cursor(_value(shown[-1], column), shown[-1].pk) if more else ""
    return PageOfRows(rows=shown, cursor=last)


def _value(row: Any, column: str) -> str:
    for name in column.split("__"):
        row = getattr(row, name)
    return row.isoformat() if hasattr(row, "isoformat") else str(row)


def _cursor(value: str, key: int) -> str:
    text = json.dumps([value, key], separators=(",", ":"), ensure_ascii=False)
    return base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")


def _position(model: type[models.Model], column: str, cursor: str) -> tuple[Any, int]:
    try:
        padded = cursor + "=" * (-len(cursor) % 4)
        value, key = json.loads(base64.b64decode(padded, b"-_", validate=True))
        if type(value) is not str or type(key) is not int or not 0 <= key < 2**63:
            raise TypeError
        return _comparable(_field(model, column.split("__")).to_python(value)), key
    except _NO_CURSOR as error:
        error_of_field = FieldError(
            field="cursor", code="no_cursor", detail=f"“{cursor}” is no cursor of ours."
        )
        raise ProblemError.of_errors(400, [error_of_field]) from error


def _comparable(value: Any) -> Any:
    """Give a value that a database can hold another against; raises for the rest."""
    if isinstance(value, str):
        # Half a surrogate pair is none that is kept anywhere, nor is a NUL.
        value.encode()
        if "\0" in value:
            raise ValueError
    if isinstance(value, dt.datetime):
        if value.tzinfo is None:
            raise TypeError
        # Some hours of the first and the last year are none of this calendar in UTC.
        value.astimezone(dt.UTC)
    return value


def _field(model: Any, names: Sequence[str]) -> Any:
    field = model._meta.pk if names[0] == "pk" else model._meta.get_field(names[0])
    return field if len(names) == 1 else _field(field.related_model, names[1:])
