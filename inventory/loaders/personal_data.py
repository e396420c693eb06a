"""
All that names a person, gathered by what points to them: no table is forgotten.

What would let somebody in, or tell a name from its hash in a seal, stays out; so do
packed contents, which are files of their own.
"""

from typing import Any, Final

from django.db import models

from inventory.models import Person

_SECRET: Final = frozenset(
    {
        "password",
        "name_salt",
        "session_key",
        "session_data",
        "code_sha256",
        "key",
        "last_t",
        "drift",
        "sha256",
    }
)


def load_personal_data(person: Person) -> dict[str, Any]:
    """Load what is kept of a person, and each row that names them, by table."""
    tables: dict[str, list[dict[str, Any]]] = {}
    for relation in _pointing_here():
        rows = relation.related_model._default_manager.filter(
            **{relation.field.name: person}
        )
        name = f"{relation.related_model._meta.label}, {relation.field.name}"
        if told := [_row(one) for one in rows.order_by("pk")]:
            tables[name] = told
    return {"person": _row(person), "rows that name this person": tables}


def _pointing_here() -> list[models.ForeignObjectRel]:
    """List every foreign key to a person, in every app, as they are now."""
    fields = Person._meta.get_fields(include_hidden=True)
    relations = [one for one in fields if isinstance(one, models.ForeignObjectRel)]
    return sorted(
        relations, key=lambda one: (one.related_model._meta.label, one.field.name)
    )


def _row(row: models.Model) -> dict[str, Any]:
    return {
        field.attname: field.value_from_object(row)
        for field in row._meta.concrete_fields
        if field.name not in _SECRET and not isinstance(field, models.BinaryField)
    }
