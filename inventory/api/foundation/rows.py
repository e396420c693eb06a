"""Rows that a body names by their key or tag, and people as they go out."""

from typing import Any, TypeVar

from django.db.models import Model, QuerySet
from rest_framework import serializers

from inventory.api.foundation.problems import FieldError, ProblemError
from inventory.api.foundation.shapes import Gives, Said
from inventory.models import Person

Row = TypeVar("Row", bound=Model)


class Who(Gives):
    """A person."""

    id = serializers.IntegerField(source="pk")
    name = Said()


class NamedRow(Gives):
    """A row with its key and what it is called."""

    id = serializers.IntegerField(source="pk")
    name = serializers.SerializerMethodField()

    def get_name(self, row: Any) -> str:
        return str(row)


def named_row(rows: QuerySet[Row], key: Any, *, field: str, by: str = "pk") -> Row:
    """Give the row that a field of the body names, or refuse the field."""
    row = rows.filter(**{by: key}).first()
    if row is None:
        name = rows.model._meta.verbose_name
        message = f"There is no {name} “{key}” for you to name."
        raise ProblemError.of_errors(
            422, [FieldError(field=field, code="unknown", detail=message)]
        )
    return row


def person_named(key: int, *, field: str) -> Person:
    """Give the person whom a field names; nobody who is switched off."""
    return named_row(Person.objects.active(), key, field=field)
