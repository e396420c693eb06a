"""
Columns of an archive: each field of a table as text and back, and what it is.

Types and formats are those of the Table Schema of Frictionless Data.  A text that is
not there and an empty one are written alike; no table has both in one column.
"""

import base64
import datetime as dt
import json
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django.db import models

from inspection.files.archive.words import words_of

_MOMENT: Final = "%Y-%m-%dT%H:%M:%S.%fZ"
#: From here on a float is written with an exponent, and PostgreSQL keeps no such.
_WHOLE_FROM: Final = 1e16


@dataclass(frozen=True, kw_only=True)
class Sort:
    """A sort of value: what the table schema calls it, and how it is text."""

    type: str
    format: str = ""
    write: Callable[[Any], str] = str
    read: Callable[[str], Any] = str


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a table; ``of`` is the table that it names a row of."""

    name: str
    sort: Sort
    words: str
    may_be_missing: bool
    of: str = ""

    def write(self, value: Any) -> str:
        return "" if value is None else self.sort.write(value)

    def read(self, text: str) -> Any:
        """Give what a cell says; raises ValueError where it is nothing of the sort."""
        if text:
            return self.sort.read(text)
        if self.may_be_missing:
            return None
        if self.sort.type == "string" and not self.sort.format:
            return ""
        msg = f"a {self.sort.type} is missing"
        raise ValueError(msg)

    def as_field(self) -> dict[str, Any]:
        """Describe the column as the table schema does."""
        field: dict[str, Any] = {
            "name": self.name,
            "type": self.sort.type,
            "description": self.words,
        }
        if self.sort.format:
            field["format"] = self.sort.format
        return field


def column_of(field: "models.Field[Any, Any]") -> Column:
    """Describe a field of a table."""
    named = field.remote_field.model._meta.db_table if field.remote_field else ""
    return Column(
        name=field.attname,
        sort=_sort_of(field),
        words=words_of(field),
        may_be_missing=field.null,
        of=named,
    )


def _sort_of(field: "models.Field[Any, Any]") -> Sort:
    if isinstance(field, models.ForeignKey):
        return _sort_of(field.target_field)
    for kind, sort in _SORTS:
        if isinstance(field, kind):
            return sort
    msg = f"No archive can hold a {type(field).__name__} yet: {field}."
    raise NotImplementedError(msg)


def _flag(text: str) -> bool:
    return {"true": True, "false": False}[text]


def _write_flag(value: bool) -> str:  # noqa: FBT001  a cell's value
    return "true" if value else "false"


def _write_moment(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).strftime(_MOMENT)


def _moment(text: str) -> dt.datetime:
    return dt.datetime.strptime(text, _MOMENT).replace(tzinfo=dt.UTC)


def _write_bytes(value: Any) -> str:
    return base64.b64encode(bytes(value)).decode()


def _bytes(text: str) -> bytes:
    return base64.b64decode(text, validate=True)


def _write_json(value: Any) -> str:
    return json.dumps(
        _plain(value), ensure_ascii=False, sort_keys=True, separators=(",", ":")
    )


def _plain(value: Any) -> Any:
    """Write a large float as the whole number that it is, as PostgreSQL does."""
    match value:
        case dict():
            return {key: _plain(one) for key, one in value.items()}
        case list():
            return [_plain(one) for one in value]
        case float() if abs(value) >= _WHOLE_FROM:
            return int(value)
    return value


_INTEGER: Final = Sort(type="integer", read=int)
_SORTS: "Final[tuple[tuple[type[models.Field[Any, Any]], Sort], ...]]" = (
    (models.AutoField, _INTEGER),
    (models.BigAutoField, _INTEGER),
    (models.IntegerField, _INTEGER),
    (models.BooleanField, Sort(type="boolean", write=_write_flag, read=_flag)),
    (
        models.DateTimeField,
        Sort(type="datetime", format=_MOMENT, write=_write_moment, read=_moment),
    ),
    (
        models.DateField,
        Sort(type="date", write=dt.date.isoformat, read=dt.date.fromisoformat),
    ),
    (
        models.BinaryField,
        Sort(type="string", format="binary", write=_write_bytes, read=_bytes),
    ),
    (models.UUIDField, Sort(type="string", format="uuid", read=uuid.UUID)),
    (models.JSONField, Sort(type="any", write=_write_json, read=json.loads)),
    (models.DecimalField, Sort(type="number", write="{:f}".format, read=Decimal)),
    (models.FloatField, Sort(type="number", write=repr, read=float)),
    (models.TextField, Sort(type="string")),
    (models.CharField, Sort(type="string")),
)
