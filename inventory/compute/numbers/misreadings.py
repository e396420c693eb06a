"""
Why a typed text is no number: one class per reason, and which one it is.

The sentence is made at the edge, in `inventory/words/numbers.py`.
"""

import re
from enum import StrEnum
from typing import ClassVar

from inventory.compute.errors import ComputeError
from inventory.compute.numbers.kinds_of_unit import Unit


class KeyboardLayout(StrEnum):
    """The layout of a keyboard that is not the one that gauges type for."""

    FRENCH = "French"
    BELGIAN = "Belgian"
    CZECH = "Czech"


class NumberError(ComputeError):
    """
    A typed text is not taken as a number.

    Parameters
    ----------
    typed : str
        The text.
    unit : Unit
        Of the number that would have been taken.
    found : str, optional
        What in the text is at fault, or what was meant by it.
    of : str, optional
        Whose that is: the unit of a mark, the layout of a keyboard.
    """

    code: ClassVar[str] = "not_a_number"

    def __init__(self, typed: str, unit: Unit, found: str = "", of: str = "") -> None:
        super().__init__(typed, unit, found, of)
        self.typed = typed
        self.unit = unit
        self.found = found
        self.of = of

    def __str__(self) -> str:
        return f"{self.code}: {self.typed!r} in {self.unit}"


class EmptyNumberError(NumberError):
    """Nothing was typed."""

    code: ClassVar[str] = "empty"


class LongNumberError(NumberError):
    """The number has more than 12 characters."""

    code: ClassVar[str] = "too_long"


class LargeNumberError(NumberError):
    """The number is a thousand million or more."""

    code: ClassVar[str] = "too_large"


class ForeignDigitsError(NumberError):
    """A digit is none of 0 to 9: full width, of another script, or a ½."""

    code: ClassVar[str] = "foreign_digits"


class KeyboardLayoutError(NumberError):
    """The keys were those of a number, on a keyboard set to another layout."""

    code: ClassVar[str] = "keyboard_layout"


class NotFiniteError(NumberError):
    """The words for no number and for infinity."""

    code: ClassVar[str] = "not_finite"


class ExponentError(NumberError):
    """The number is written with a power of ten."""

    code: ClassVar[str] = "exponent"


class GroupedDigitsError(NumberError):
    """The digits stand in groups, so that a mark could be read two ways."""

    code: ClassVar[str] = "grouped_digits"


class TwoDecimalMarksError(NumberError):
    """There is more than one decimal mark."""

    code: ClassVar[str] = "two_decimal_marks"


class UnfinishedNumberError(NumberError):
    """A sign or a decimal mark has no digit after it."""

    code: ClassVar[str] = "unfinished"


class LetterInNumberError(NumberError):
    """There is a letter before or among the digits."""

    code: ClassVar[str] = "letter_in_number"


class FractionError(NumberError):
    """A fraction that no inch rule shows, or one without the inch mark."""

    code: ClassVar[str] = "bad_fraction"


class UnknownMarkError(NumberError):
    """What follows the number is no unit."""

    code: ClassVar[str] = "unknown_mark"


class WrongUnitError(NumberError):
    """The unit is that of another kind of quantity."""

    code: ClassVar[str] = "wrong_unit"


class NegativeToleranceError(NumberError):
    """A tolerance is below zero."""

    code: ClassVar[str] = "negative_tolerance"


# What the keys 1 … 0 . , - / m of a keyboard as most gauges have it (US) type under
# another layout.  Source: xkeyboard-config 2.35.1, symbols/us, fr, be, cz.
_KEYS = "1234567890.,-/m"
_LAYOUTS = {
    KeyboardLayout.FRENCH: str.maketrans("&é\"'(-è_çà:;)!,", _KEYS),
    KeyboardLayout.BELGIAN: str.maketrans("&é\"'(§è!çà:;)=,", _KEYS),
    KeyboardLayout.CZECH: str.maketrans("+ěščřžýáíé.,=-m", _KEYS),
}
_MEANT = re.compile(r"-?[0-9]*[.,]?[0-9]+(?:/[0-9]+)?\s*(?:mm|in|g)?")

_SIGN = "[+−-]"
# The first that is found names the reason; its group, what is at fault.
_REASONS = tuple(
    (re.compile(pattern, re.IGNORECASE), error)
    for pattern, error in (
        (rf"^{_SIGN}?(?:nan|inf|infinity|∞)$", NotFiniteError),
        (rf"^{_SIGN}?[0-9.,]+e{_SIGN}?[0-9]", ExponentError),
        (r"[0-9]\s*/|/\s*[0-9]", FractionError),
        (r"[0-9][\s_'’]+[0-9]|\..*,|,.*\.", GroupedDigitsError),
        (
            r"^.?[0-9]{1,3}(?:,[0-9]{3}){2,}|^.?[0-9]{1,3}(?:\.[0-9]{3}){2,}",
            GroupedDigitsError,
        ),
        (r"[.,][0-9]*[.,]", TwoDecimalMarksError),
        (
            rf"^({_SIGN})(?![0-9.,])|^{_SIGN}?[0-9]*([.,])(?![0-9])",
            UnfinishedNumberError,
        ),
        (r"([^\W\d_]).*[0-9]", LetterInNumberError),
        (r"[0-9]\s*([^0-9]+)$", UnknownMarkError),
    )
)


def diagnose(typed: str, unit: Unit) -> NumberError:
    """
    Tell why a text is no number.

    Parameters
    ----------
    typed : str
        Text that was not taken, without blanks around it.
    unit : Unit
        Of the number that would have been taken.

    Returns
    -------
    NumberError
        The most telling reason, to be raised.

    Examples
    --------
    >>> diagnose("1.234,5", Unit.MILLIMETRE).code
    'grouped_digits'
    """
    for character in typed:
        if character.isnumeric() and not character.isascii():
            return ForeignDigitsError(typed, unit, character)
    if meant := _through_other_layout(typed):
        return KeyboardLayoutError(typed, unit, *meant)
    for pattern, error in _REASONS:
        if match := pattern.search(typed):
            return error(typed, unit, match[match.lastindex or 0])
    return NumberError(typed, unit)


def _through_other_layout(typed: str) -> tuple[str, KeyboardLayout] | None:
    # A lone sign is a number broken off, though French types 6 with it.
    if re.search("[0-9]", typed) or set(typed) <= set("+-"):
        return None
    for layout, keys in _LAYOUTS.items():
        meant = typed.translate(keys)
        if _MEANT.fullmatch(meant):
            return meant, layout
    return None
