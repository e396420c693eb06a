"""What the tables of both apps have in common, read off the models themselves."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import models
from django.db.models.fields.related import ForeignKey

APPS = ("inventory", "inspection")
MODELS = [model for app in APPS for model in apps.get_app_config(app).get_models()]


def own_fields() -> Iterator[tuple[type[models.Model], "models.Field[Any, Any]"]]:
    for model in MODELS:
        for field in model._meta.local_fields:
            yield model, field


def label(model: type[models.Model], field: "models.Field[Any, Any]") -> str:
    return f"{model._meta.label}.{field.name}"


def is_held_by_the_database(
    model: type[models.Model], field: "models.Field[Any, Any]"
) -> bool:
    """Say whether some check constraint names this column and a set of words."""
    checks = [
        constraint
        for constraint in model._meta.constraints
        if isinstance(constraint, models.CheckConstraint)
    ]
    wanted = {f"{field.name}__in", field.name}
    return any(wanted & set(lookups(check.condition)) for check in checks)


def lookups(condition: object) -> Iterator[str]:
    for child in getattr(condition, "children", []):
        if isinstance(child, tuple):
            yield child[0]
        else:
            yield from lookups(child)


def keys() -> list[tuple[type[models.Model], "ForeignKey[Any, Any]"]]:
    return [(m, f) for m, f in own_fields() if isinstance(f, ForeignKey)]


def app_of(target: object) -> str:
    assert isinstance(target, type)
    assert issubclass(target, models.Model)
    return target._meta.app_label


@pytest.mark.django_db
def test_migrations_say_all_that_the_models_say() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_no_boolean_has_a_third_state() -> None:
    assert not [
        label(model, field)
        for model, field in own_fields()
        if isinstance(field, models.BooleanField) and field.null
    ]


def test_every_choice_is_held_by_the_database() -> None:
    with_choices = [(m, f) for m, f in own_fields() if f.choices]
    assert with_choices
    assert not [
        label(model, field)
        for model, field in with_choices
        if not is_held_by_the_database(model, field)
    ]


def test_inventory_has_no_key_to_inspection() -> None:
    assert not [
        label(model, key)
        for model, key in keys()
        if app_of(model) == "inventory" and app_of(key.related_model) == "inspection"
    ]


def test_keys_across_the_apps_are_hidden_and_protected() -> None:
    across = [
        (model, key)
        for model, key in keys()
        if app_of(model) == "inspection" and app_of(key.related_model) == "inventory"
    ]
    assert across
    assert not [
        label(model, key)
        for model, key in across
        if not key.remote_field.hidden
        or key.remote_field.on_delete is not models.PROTECT
    ]
