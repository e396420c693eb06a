"""Filters of lists that the package does not bring."""

import re
from typing import Any

from django.forms import DateField, IntegerField, ValidationError
from django_filters import Filter


class WholeNumber(Filter):  # type: ignore[misc]
    """A key."""

    field_class = IntegerField

    def __init__(self, **options: Any) -> None:
        super().__init__(min_value=1, max_value=10**15, **options)


class DayField(DateField):
    """A day as RFC 3339 writes it (full-date), and in no other way."""

    def to_python(self, value: Any) -> Any:
        if value and not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            message = f"“{value}” was given; a day like 2026-05-08 was expected."
            raise ValidationError(message, code="invalid")
        return super().to_python(value)


class Day(Filter):  # type: ignore[misc]
    """A day."""

    field_class = DayField
