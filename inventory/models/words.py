"""
A closed set of words as a column.

Choices for forms, a check for the database, and a member of the enumeration on every
row, whoever wrote it: made by a query, by a form, or by hand.
"""

from enum import StrEnum
from typing import Any, TypeVar

from django.db import models
from django.db.models.query_utils import DeferredAttribute

_W = TypeVar("_W", bound=StrEnum)


class _Word(DeferredAttribute):
    """Turn what is put on a row into its word; what is none, the check refuses."""

    field: "WordField"

    def __set__(self, row: models.Model, value: object) -> None:
        is_text = isinstance(value, str)
        words = self.field.by_value
        row.__dict__[self.field.attname] = words.get(value, value) if is_text else value


class WordField(models.CharField):  # type: ignore[type-arg]
    """
    A column of an enumeration's words; ``word_field`` makes one and knows its type.

    To a migration it is the column of text that it is.
    """

    descriptor_class = _Word

    def __init__(self, words: type[StrEnum], **options: Any) -> None:
        self.words = words
        self.by_value: dict[object, StrEnum] = {word.value: word for word in words}
        super().__init__(**{"choices": choices_of(words), **options})

    def from_db_value(self, value: Any, *_args: Any) -> Any:
        """Give the word where a query gives values and no rows."""
        return self.by_value.get(value, value)

    def deconstruct(self) -> Any:
        name, _path, args, options = super().deconstruct()
        return name, "django.db.models.CharField", args, options

    def clone(self) -> "WordField":
        return WordField(self.words, **self.deconstruct()[3])


def word_field(words: type[_W], **options: Any) -> "models.CharField[_W | str, _W]":
    """Make a column that gives members of an enumeration."""
    return WordField(words, **options)


def choices_of(words: type[StrEnum]) -> list[tuple[str, str]]:
    return [(word.value, word.value) for word in words]


def one_of(
    column: str, words: type[StrEnum], *, name: str, blank: bool = False
) -> models.CheckConstraint:
    """Let the database refuse any other word; the name is the error's code."""
    allowed = [word.value for word in words] + ([""] if blank else [])
    return models.CheckConstraint(
        condition=models.Q(**{f"{column}__in": allowed}),
        name=name,
        violation_error_code=name,
    )
