"""Why a typed text is no number, in sentences."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inventory.compute.errors import ComputeError
from inventory.compute.numbers import NumberError, Unit
from inventory.words.enumerations import word_of
from inventory.words.refusals import refusal_words

_SHOWN_LENGTH: Final = 24
_STAND_IN: Final = {True: " ", False: "\N{REPLACEMENT CHARACTER}"}

#: What would have been taken.
_EXPECTED: Final[Mapping[Unit, Promise]] = MappingProxyType(
    {
        Unit.MILLIMETRE: gettext_lazy(
            "a length in mm, such as 12.34 or 12,34, or in inches with their mark, "
            "such as 0.486in or 3/32in"
        ),
        Unit.GRAM: gettext_lazy("a mass in g, such as 12.3 or 12,3"),
        Unit.DEGREE: gettext_lazy("an angle in degrees, such as 1.2 or 1,2"),
        Unit.OHM: gettext_lazy("a resistance in ohm, such as 1.2 or 1,2"),
        Unit.RPM: gettext_lazy("a speed in rpm, such as 12340"),
        Unit.VOLT: gettext_lazy("a voltage in V, such as 12.3 or 12,3"),
        Unit.SHORE_A: gettext_lazy("a hardness, Shore A, such as 34"),
        Unit.ONE: gettext_lazy("a plain number, such as 12 or 1.23"),
    }
)
#: What a unit is of.
_OF: Final[Mapping[str, Promise]] = MappingProxyType(
    {
        Unit.MILLIMETRE: gettext_lazy("a length"),
        Unit.GRAM: gettext_lazy("a mass"),
        Unit.DEGREE: gettext_lazy("an angle"),
        Unit.OHM: gettext_lazy("a resistance"),
        Unit.RPM: gettext_lazy("a speed"),
        Unit.VOLT: gettext_lazy("a voltage"),
        Unit.SHORE_A: gettext_lazy("a hardness"),
        Unit.ONE: gettext_lazy("a plain number"),
    }
)
#: By the code of the error.
_REASONS: Final[Mapping[str, Promise]] = MappingProxyType(
    {
        "not_a_number": gettext_lazy("this is no number"),
        "too_long": gettext_lazy("a number has at most 12 characters"),
        "too_large": gettext_lazy("this is a thousand million or more"),
        "foreign_digits": gettext_lazy("“%(found)s” is none of the digits 0 to 9"),
        "keyboard_layout": gettext_lazy(
            "this looks like %(found)s through a %(of)s keyboard layout; set this "
            "device's keyboard to the layout that the gauge types in"
        ),
        "not_finite": gettext_lazy("this is no finite number"),
        "exponent": gettext_lazy("powers of ten are not read"),
        "grouped_digits": gettext_lazy("the digits are in groups"),
        "two_decimal_marks": gettext_lazy("there is more than one decimal mark"),
        "unfinished": gettext_lazy("“%(found)s” has no digit after it"),
        "letter_in_number": gettext_lazy(
            "there is a letter, “%(found)s”, where a digit belongs"
        ),
        "bad_fraction": gettext_lazy(
            "a fraction is one of an inch, below 1, in halves to sixty-fourths, with "
            "its mark, such as 3/32in or 1 3/32in"
        ),
        "unknown_mark": gettext_lazy("“%(found)s” is no unit known here"),
        "wrong_unit": gettext_lazy("its unit is %(found)s, of %(of)s"),
        "negative_tolerance": gettext_lazy("a tolerance is not negative"),
    }
)


def error_words(error: ComputeError) -> str:
    """
    Say why something cannot be computed.

    Parameters
    ----------
    error : ComputeError
        What computing refused.

    Returns
    -------
    str
        Of a typed number a sentence with what was typed and what was expected.
    """
    if not isinstance(error, NumberError):
        return refusal_words(error)
    filled_in = {"typed": _shown(error.typed), "expected": str(_EXPECTED[error.unit])}
    if error.code == "empty":
        return _("Nothing was typed. Expected %(expected)s.") % filled_in
    filled_in["reason"] = str(_REASONS[error.code]) % {
        "found": _printable(error.found),
        "of": _OF.get(error.of) or word_of(error.of),
    }
    return _("Typed “%(typed)s”: %(reason)s. Expected %(expected)s.") % filled_in


def _shown(text: str) -> str:
    short = text if len(text) <= _SHOWN_LENGTH else text[:_SHOWN_LENGTH] + "…"
    return _printable(short)


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else _STAND_IN[c.isspace()] for c in text)
