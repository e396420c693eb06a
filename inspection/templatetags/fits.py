"""How parts are named where they are looked for."""

from collections.abc import Sequence

from django import template
from django.utils.translation import gettext as _

from inventory.compute.stock import PartKind
from inventory.drawing.numbers import shown_number
from inventory.loaders.parts import facts_text
from inventory.models import Part

register = template.Library()


@register.filter
def part_words(part: Part) -> str:
    """Name a part: as it is called, else by what it is."""
    return part.name or facts_text(part) or part.kind


@register.filter
def parts_words(parts: Sequence[Part]) -> str:
    """Name parts that go on together; the two tyres of a pair once."""
    tyres = [part for part in parts if part.kind == PartKind.TYRE]
    words = [part_words(part) for part in parts if part.kind != PartKind.TYRE]
    if tyres:
        words.insert(0, _("Pair: %(what)s") % {"what": part_words(tyres[0])})
    return " + ".join(words)


@register.filter
def sizes_words(sizes_mm: Sequence[float]) -> str:
    """Write the sizes by which parts of a kind are told apart."""
    if not sizes_mm:
        return ""
    return " × ".join(shown_number(size) for size in sizes_mm) + " mm"
