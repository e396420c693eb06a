"""What comes in and what goes out: plain serializers, kept apart."""

import datetime as dt
import math
import re
from collections.abc import Mapping
from enum import StrEnum
from typing import Any, Final

from django import forms
from rest_framework import serializers

from inventory.compute.numbers import from_millionths

#: RFC 3339, 5.6, as far as its signs go, whatever date and time they say.
_WRITTEN_AS_TIME: Final = re.compile(
    r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(:\d\d(\.\d+)?)?([Zz]|[+-]\d\d:?\d\d)?", re.ASCII
)
_UNKNOWN: Final = "“{name}” is not known here."
#: Of what JSON type each field is; a number in quotes is none.
_TYPES: Final[tuple[tuple[type[serializers.Field[Any, Any, Any, Any]], Any], ...]] = (
    (serializers.BooleanField, bool),
    (serializers.IntegerField, int),
    (serializers.CharField, str),
    (serializers.ChoiceField, str),
    (serializers.UUIDField, str),
    (serializers.DateField, str),
    (serializers.DateTimeField, str),
)


class Takes(serializers.Serializer[Any]):
    """What an operation takes: every other field, and every other type, is refused."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping):
            fields = self.fields
            wrong: dict[str, list[serializers.ErrorDetail]] = {
                str(name): [
                    serializers.ErrorDetail(_UNKNOWN.format(name=name), "unknown")
                ]
                for name in data
                if name not in fields
            }
            for name, field in fields.items():
                if name in data and (error := _other_type(field, data[name])):
                    wrong[name] = [error]
            if wrong:
                raise serializers.ValidationError(wrong)
        return super().to_internal_value(data)


def _other_type(
    field: serializers.Field[Any, Any, Any, Any], value: Any
) -> serializers.ErrorDetail | None:
    if value is None:
        return None
    for kind, wanted in _TYPES:
        if isinstance(field, kind):
            is_right = type(value) is wanted
            break
    else:
        return None
    if is_right:
        return None
    message = f"“{value}” was given; {wanted.__name__} was expected."
    return serializers.ErrorDetail(message, "wrong_type")


class Gives(serializers.Serializer[Any]):
    """What an operation gives; each field is always there."""


class Text(serializers.CharField):
    """A text as it is, blanks at its ends too; empty where it is not said."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("allow_blank", not options.get("required", True))
        options.setdefault("trim_whitespace", False)
        super().__init__(**options)


class Said(serializers.CharField):
    """A text that goes out."""


class Word(serializers.ChoiceField):
    """One of a closed set of words."""

    def __init__(self, words: type[StrEnum], **options: Any) -> None:
        super().__init__([word.value for word in words], **options)


class Key(serializers.IntegerField):
    """The number by which a row is named."""

    def __init__(self, **options: Any) -> None:
        super().__init__(min_value=1, max_value=10**15, **options)


class DeviceTime(serializers.DateTimeField):
    """
    A moment by a device's own clock; one that no calendar has is given as its text.

    A clock that ran down begins at the year 1, or at a month of no number, and what
    was read by it was read all the same.
    """

    def to_internal_value(self, value: Any) -> dt.datetime | str:  # type: ignore[override]
        try:
            return super().to_internal_value(value)
        except (serializers.ValidationError, OverflowError):
            if _WRITTEN_AS_TIME.fullmatch(value):
                return str(value)
            raise


class Figure(serializers.FloatField):
    """A number, or null where it is not known."""

    def __init__(self, **options: Any) -> None:
        super().__init__(allow_null=True, **options)

    def to_representation(self, value: Any) -> float | None:  # type: ignore[override]
        number = float(value)
        return number if math.isfinite(number) else None


class Millionths(Figure):
    """A stored length or other size, in its unit."""

    def to_representation(self, value: Any) -> float | None:  # type: ignore[override]
        return from_millionths(float(value))


class Named(Gives):
    """Something with a key, as another thing names it."""

    id = serializers.IntegerField(source="pk")
    name = Said(source="*")


def named(**options: Any) -> Named:
    """Name a row that another one points to."""
    return Named(**options)


class Nothing(Takes):
    """An empty body."""


def like_form(
    form: type[forms.Form], name: str, *, but: frozenset[str] = frozenset()
) -> type[Takes]:
    """
    Take a form's fields as texts, so that one place reads what was typed.

    A choice is one of its words; a box is true or false; all else is a text as the
    page's field takes it.
    """
    fields = {
        key: _like_field(field)
        for key, field in form.base_fields.items()
        if key not in but
    }
    return type(name, (Takes,), {**fields, "__doc__": form.__doc__})


def _like_field(field: forms.Field) -> serializers.Field[Any, Any, Any, Any]:
    options: dict[str, Any] = {
        "required": field.required,
        "help_text": str(field.label or ""),
    }
    if isinstance(field, forms.ModelChoiceField):
        return Key(**options)
    if isinstance(field, forms.ChoiceField):
        return _like_choice(field, options)
    if isinstance(field, forms.IntegerField):
        return serializers.IntegerField(min_value=-(10**9), max_value=10**9, **options)
    if isinstance(field, forms.BooleanField):
        return serializers.BooleanField(**options)
    if isinstance(field, forms.DateField):
        return serializers.DateField(**options)
    longest = getattr(field, "max_length", None) or 400
    return Text(max_length=longest, **options)


def _like_choice(
    field: forms.ChoiceField, options: dict[str, Any]
) -> serializers.Field[Any, Any, Any, Any]:
    choices: Any = field.choices
    words = [str(key) for key, _ in choices if key != ""]
    if isinstance(field, forms.MultipleChoiceField):
        return serializers.ListField(
            child=serializers.ChoiceField(words), max_length=100, **options
        )
    if isinstance(field, forms.TypedChoiceField):
        return serializers.IntegerField(min_value=0, max_value=10**15, **options)
    return serializers.ChoiceField(words, **options)


def form_data(given: Mapping[str, Any]) -> dict[str, Any]:
    """Write what was said as a page's form would send it."""
    return {
        name: "on" if value is True else value
        for name, value in given.items()
        if value is not False and value is not None
    }
