"""Words of enumerations in a template."""

from collections.abc import Iterable
from enum import StrEnum

from django import template
from django.utils.text import capfirst

from inventory.models import Part
from inventory.words.enumerations import word_of

register = template.Library()

register.filter("word", word_of)


@register.filter
def words(members: Iterable[StrEnum]) -> list[str]:
    """Give the words of several members, to be joined."""
    return [word_of(member) for member in members]


@register.filter
def called(part: Part) -> str:
    """Give a part's own name, else the word of its kind."""
    return part.name or word_of(part.kind)


@register.filter
def heading(part: Part) -> str:
    """Give a part's own name, else the word of its kind as it begins a line."""
    return part.name or capfirst(word_of(part.kind))
