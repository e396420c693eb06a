"""
Why a typed text is no number: one class per reason, and which one it is.

The sentence names what was typed and what was expected; ``reason`` and
``expected`` stand apart for pages that translate them.
"""

import re
from typing import ClassVar

from inventory.compute.errors import ComputeError

_SHOWN_LENGTH = 24
_STAND_IN = {True: " ", False: "\N{REPLACEMENT CHARACTER}"}


class NumberError(ComputeError):
    """
    A typed text is not taken as a number.

    Parameters
    ----------
    typed : str
        The text.
    expected : str
        What would have been taken.
    found : str, optional
        What in the text is at fault.
    """

    code: ClassVar[str] = "not_a_number"
    reason: ClassVar[str] = "this is no number"

    def __init__(self, typed: str, expected: str, found: str = "") -> None:
        super().__init__(typed, expected, found)
        self.typed = typed
        self.expected = expected
        self.found = found

    def __str__(self) -> str:
        reason = self.reason.format(found=_printable(self.found))
        return f"Typed “{_shown(self.typed)}”: {reason}. Expected {self.expected}."


class EmptyNumberError(NumberError):
    """Nothing was typed."""

    code: ClassVar[str] = "empty"
    reason: ClassVar[str] = "nothing was typed"

    def __str__(self) -> str:
        return f"Nothing was typed. Expected {self.expected}."


class LongNumberError(NumberError):
    """The number has more than 12 characters."""

    code: ClassVar[str] = "too_long"
    reason: ClassVar[str] = "a number has at most 12 characters"


class LargeNumberError(NumberError):
    """The number is a thousand million or more."""

    code: ClassVar[str] = "too_large"
    reason: ClassVar[str] = "this is a thousand million or more"


class ForeignDigitsError(NumberError):
    """A digit is none of 0 to 9: full width, of another script, or a ½."""

    code: ClassVar[str] = "foreign_digits"
    reason: ClassVar[str] = "“{found}” is none of the digits 0 to 9"


class KeyboardLayoutError(NumberError):
    """The keys were those of a number, on a keyboard set to another layout."""

    code: ClassVar[str] = "keyboard_layout"
    reason: ClassVar[str] = (
        "this looks like {found}; set this device's keyboard to the layout that"
        " the gauge types in"
    )


class NotFiniteError(NumberError):
    """The words for no number and for infinity."""

    code: ClassVar[str] = "not_finite"
    reason: ClassVar[str] = "this is no finite number"


class ExponentError(NumberError):
    """The number is written with a power of ten."""

    code: ClassVar[str] = "exponent"
    reason: ClassVar[str] = "powers of ten are not read"


class GroupedDigitsError(NumberError):
    """The digits stand in groups, so that a mark could be read two ways."""

    code: ClassVar[str] = "grouped_digits"
    reason: ClassVar[str] = "the digits are in groups"


class TwoDecimalMarksError(NumberError):
    """There is more than one decimal mark."""

    code: ClassVar[str] = "two_decimal_marks"
    reason: ClassVar[str] = "there is more than one decimal mark"


class UnfinishedNumberError(NumberError):
    """A sign or a decimal mark has no digit after it."""

    code: ClassVar[str] = "unfinished"
    reason: ClassVar[str] = "“{found}” has no digit after it"


class LetterInNumberError(NumberError):
    """There is a letter before or among the digits."""

    code: ClassVar[str] = "letter_in_number"
    reason: ClassVar[str] = "there is a letter, “{found}”, where a digit belongs"


class FractionError(NumberError):
    """A fraction that no inch rule shows, or one without the inch mark."""

    code: ClassVar[str] = "bad_fraction"
    reason: ClassVar[str] = (
        "a fraction is one of an inch, below 1, in halves to sixty-fourths,"
        " with its mark, such as 3/32in or 1 3/32in"
    )


class UnknownMarkError(NumberError):
    """What follows the number is no unit."""

    code: ClassVar[str] = "unknown_mark"
    reason: ClassVar[str] = "“{found}” is no unit known here"


class WrongUnitError(NumberError):
    """The unit is that of another kind of quantity."""

    code: ClassVar[str] = "wrong_unit"
    reason: ClassVar[str] = "its unit is {found}"


class NegativeToleranceError(NumberError):
    """A tolerance is below zero."""

    code: ClassVar[str] = "negative_tolerance"
    reason: ClassVar[str] = "a tolerance is not negative"


# What the keys 1 … 0 . , - / m of a keyboard as most gauges have it (US) type under
# another layout.  Source: xkeyboard-config 2.35.1, symbols/us, fr, be, cz.
_KEYS = "1234567890.,-/m"
_LAYOUTS = {
    "French": str.maketrans("&é\"'(-è_çà:;)!,", _KEYS),
    "Belgian": str.maketrans("&é\"'(§è!çà:;)=,", _KEYS),
    "Czech": str.maketrans("+ěščřžýáíé.,=-m", _KEYS),
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


def diagnose(typed: str, expected: str) -> NumberError:
    """
    Tell why a text is no number.

    Parameters
    ----------
    typed : str
        Text that was not taken, without blanks around it.
    expected : str
        What would have been taken.

    Returns
    -------
    NumberError
        The most telling reason, to be raised.

    Examples
    --------
    >>> print(diagnose("1.234,5", "a length"))
    Typed “1.234,5”: the digits are in groups. Expected a length.
    """
    for character in typed:
        if character.isnumeric() and not character.isascii():
            return ForeignDigitsError(typed, expected, character)
    if meant := _through_other_layout(typed):
        return KeyboardLayoutError(typed, expected, meant)
    for pattern, error in _REASONS:
        if match := pattern.search(typed):
            return error(typed, expected, match[match.lastindex or 0])
    return NumberError(typed, expected)


def _through_other_layout(typed: str) -> str:
    # A lone sign is a number broken off, though French types 6 with it.
    if re.search("[0-9]", typed) or set(typed) <= set("+-"):
        return ""
    for layout, keys in _LAYOUTS.items():
        meant = typed.translate(keys)
        if _MEANT.fullmatch(meant):
            return f"{meant} through a {layout} keyboard layout"
    return ""


def _shown(text: str) -> str:
    short = text if len(text) <= _SHOWN_LENGTH else text[:_SHOWN_LENGTH] + "…"
    return _printable(short)


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else _STAND_IN[c.isspace()] for c in text)
