"""What differs between two editions, and whom a rule speaks of, in words."""

from collections.abc import Iterable
from decimal import Decimal
from enum import StrEnum

from django.utils.translation import gettext as _

from inspection.compute.quantities import QUANTITIES
from inspection.compute.rulebooks import (
    Limit,
    Part,
    PartChange,
    RuleText,
    Said,
    Stage,
    limit_text,
)
from inspection.words.quantities import quantity_name
from inventory.words.enumerations import word_of


def change_words(change: PartChange) -> str:
    """
    Say what a rule says otherwise than before.

    Parameters
    ----------
    change : PartChange
        Of a rule, or of an edition.

    Returns
    -------
    str
        What it is, before and after, and which way that goes.
    """
    filled_in = {
        "what": word_of(change.what),
        "before": _said(change.what, change.before) or _("none"),
        "after": _said(change.what, change.after) or _("none"),
        "way": word_of(change.tends),
    }
    if not change.tends:
        return _("%(what)s: %(before)s → %(after)s") % filled_in
    return _("%(what)s: %(before)s → %(after)s (%(way)s)") % filled_in


def classes_words(classes: Iterable[str]) -> str:
    """
    Name the classes that a rule speaks of.

    Parameters
    ----------
    classes : iterable of str
        Their names; a rule that names none speaks of all.

    Returns
    -------
    str
        With a comma between them.
    """
    return ", ".join(sorted(classes)) or _("all classes")


def condition_words(rule: RuleText) -> str:
    """
    Say of which cars a rule speaks.

    Parameters
    ----------
    rule : RuleText
        The rule.

    Returns
    -------
    str
        Empty for every car.
    """
    return _condition(rule.condition_key, rule.condition_word)


def _condition(key: str, word: str) -> str:
    return f"{quantity_name(key).lower()} {word_of(word)}" if key else ""


def _said(what: Part, value: Said) -> str:
    match value:
        case Stage():
            words = _asked(value)
        case StrEnum():
            words = word_of(value)
        case Limit():
            words = limit_text(value.millionths, QUANTITIES[value.quantity])
        case Decimal():
            words = f"{(100 * value).normalize():f} %"
        case tuple() if what is Part.CLASSES:
            words = classes_words(value)
        case (str(key), str(word)):
            words = _condition(key, word)
        case str() if what is Part.QUANTITY:
            words = quantity_name(value)
        case str():
            words = value
        case _:
            words = ""
    return words


def _asked(stage: Stage) -> str:
    match stage:
        case Stage.BEFORE:
            return _("before the race")
        case Stage.AFTER:
            return _("after the race")
        case Stage.BOTH:
            return _("before and after the race")
