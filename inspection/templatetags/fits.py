"""How parts are named where they are looked for."""

from django import template

from inventory.loaders.parts import facts_text
from inventory.models import Part

register = template.Library()


@register.simple_tag
def part_words(part: Part) -> str:
    """Name a part: as it is called, else by what it is."""
    return part.name or facts_text(part) or part.kind
