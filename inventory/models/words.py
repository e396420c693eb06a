"""A closed set of words as a column: choices for forms, a check for the database."""

from enum import StrEnum

from django.db import models


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
