"""A column of words gives members of its enumeration, however a row was made."""

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction
from django.utils import timezone

from inventory.compute.stock import PartKind, PartState
from inventory.models import Part
from inventory.models.words import WordField

pytestmark = pytest.mark.django_db


def tyre(**facts: str) -> Part:
    return Part(tag="T-000001", kind="tyre", received_at=timezone.now(), **facts)


def test_what_is_put_on_a_row_and_what_is_read_is_a_word() -> None:
    part = tyre()
    assert part.kind is PartKind.TYRE
    assert part.state is PartState.IN_STOCK
    part.save()
    part.state = "retired"
    assert part.state is PartState.RETIRED
    read = Part.objects.get()
    assert (read.kind, read.state) == ("tyre", "in stock")
    assert read.kind is PartKind.TYRE
    assert list(Part.objects.values_list("kind", flat=True)) == ["tyre"]
    assert Part.objects.values_list("kind", flat=True)[0] is PartKind.TYRE
    part.save()
    read.refresh_from_db()
    assert read.state is PartState.RETIRED


def test_what_is_no_word_is_refused_by_form_and_database() -> None:
    part = tyre(state="lent to the moon")
    assert part.state == "lent to the moon"
    with pytest.raises(ValidationError) as refusal:
        part.full_clean()
    assert "state" in refusal.value.message_dict
    with pytest.raises(IntegrityError), transaction.atomic():
        part.save()


def test_column_not_loaded_yet_is_a_word_when_it_is() -> None:
    tyre().save()
    part = Part.objects.defer("kind").get()
    assert "kind" in part.get_deferred_fields()
    assert part.kind is PartKind.TYRE


def test_every_closed_set_of_words_is_kept_so() -> None:
    plain = [
        f"{model.__name__}.{column.name}"
        for name in ("inventory", "inspection")
        for model in apps.get_app_config(name).get_models()
        for column in model._meta.get_fields()
        if isinstance(column, models.CharField)
        and column.choices
        and not isinstance(column, WordField)
    ]
    assert plain == []
