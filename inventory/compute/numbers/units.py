"""
Units of the quantities, and strict reading of a typed number.

Text in, whole millionths of the quantity's own unit out, the same in every
language.  A comma or a point is the decimal mark and nothing else; what could
be read two ways is refused, with the reason.
"""

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from math import ceil, isfinite
from typing import ClassVar, TypeVar

import numpy as np
from numpy.typing import NDArray

from inventory.compute.errors import ComputeError
from inventory.compute.numbers.kinds_of_unit import Unit
from inventory.compute.numbers.millionths import MILLION, from_millionths
from inventory.compute.numbers.misreadings import (
    EmptyNumberError,
    FractionError,
    LargeNumberError,
    LongNumberError,
    NegativeToleranceError,
    NumberError,
    WrongUnitError,
    diagnose,
)
from inventory.compute.numbers.written import (
    MM_PER_INCH,
    MORE_DECIMALS,
    written_now,
)

__all__ = [
    "NumberError",
    "TypedNumber",
    "Unit",
    "UnprintableError",
    "decimals_for",
    "format_value",
    "parse_reading",
    "to_um",
    "tolerance_um",
]

Whole = TypeVar("Whole", int, NDArray[np.int64])

_LONGEST_NUMBER = 12
_LONGEST_TEXT = 40
# In millionths still below 2**53, so that every stored number is exact as a float.
_LARGEST = 10**9
# Digits that a float keeps: more would print what is not there.
_LARGEST_PRINTED = 1e15
_MOST_PRINTED_DECIMALS = 12


class UnprintableError(ComputeError):
    """A value is too large to be one of ours, or its decimals are too many."""

    code: ClassVar[str] = "unprintable"


# The inch of 1959 is 25.4 mm exactly, the ounce 28.349523125 g.
_INCH = Fraction("25.4")
_FACTORS = {
    Unit.MILLIMETRE: {
        "mm": Fraction(1),
        "cm": Fraction(10),
        "µm": Fraction(1, 1000),
        "um": Fraction(1, 1000),
        "in": _INCH,
        "in.": _INCH,
        "inch": _INCH,
        '"': _INCH,
        "”": _INCH,
        "″": _INCH,
        "''": _INCH,
        "thou": _INCH / 1000,
    },
    Unit.GRAM: {"g": Fraction(1), "kg": Fraction(1000), "oz": Fraction("28.349523125")},
    Unit.DEGREE: dict.fromkeys(("°", "º", "deg", "degree", "degrees"), Fraction(1)),
    Unit.OHM: dict.fromkeys(("Ω", "ohm", "ohms"), Fraction(1)),
    Unit.RPM: dict.fromkeys(("rpm", "r/min"), Fraction(1)),
    Unit.VOLT: dict.fromkeys(("V", "volt", "volts"), Fraction(1)),
    Unit.SHORE_A: dict.fromkeys(("Shore A", "ShA"), Fraction(1)),
}
_MARKS = {
    mark.casefold(): (unit, factor)
    for unit, factors in _FACTORS.items()
    for mark, factor in factors.items()
}

_TYPED = re.compile(
    r"(?P<number>(?P<sign>[+−-]?)(?:"
    r"(?P<decimal>[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
    r"|(?:(?P<whole>[0-9]+) +)?(?P<top>[0-9]+)/(?P<bottom>[0-9]+)"
    r"))\s*(?P<mark>\D*)"
)


@dataclass(frozen=True, kw_only=True)
class TypedNumber:
    """
    A number as it was typed, and what it is.

    Attributes
    ----------
    millionths : int
        The number, in millionths of ``unit``.
    unit : Unit
        The quantity's own unit.
    text : str
        What was typed, without the blanks around it.
    mark : str
        The unit's mark in it, as typed; empty if there was none.
    """

    millionths: int
    unit: Unit
    text: str
    mark: str

    @property
    def value(self) -> float:
        """The number, in ``unit``."""
        return from_millionths(self.millionths)


def parse_reading(text: str, *, unit: Unit, bare_mark: str = "") -> TypedNumber:
    """
    Read a number as a gauge or a person types it.

    Parameters
    ----------
    text : str
        Digits with one comma or point at most, or a fraction of an inch; a unit
        mark may follow.
    unit : Unit
        The quantity's own unit.
    bare_mark : str, optional
        Mark that a number without one is taken to have, such as ``in`` for a
        column of inches; by default it is in ``unit``.

    Returns
    -------
    TypedNumber
        Exact, or to the nearest millionth (half to even) if it does not come out.

    Raises
    ------
    NumberError
        A class of it for each reason.

    Examples
    --------
    >>> parse_reading("3/64 in", unit=Unit.MILLIMETRE).millionths
    1190625
    >>> parse_reading("-0,02", unit=Unit.MILLIMETRE).value
    -0.02
    """
    typed = text.strip()
    match = _match(typed, unit)
    return TypedNumber(
        millionths=round(_value(match, unit, bare_mark) * MILLION),
        unit=unit,
        text=typed,
        mark=match["mark"],
    )


def tolerance_um(text: str, *, bare_mark: str = "") -> int:
    """
    Read a tolerance on a length, in whole micrometres.

    Parameters
    ----------
    text : str
        As for `parse_reading`.
    bare_mark : str, optional
        Mark that a number without one is taken to have, else mm.

    Returns
    -------
    int
        Rounded up, so that what is within the tolerance as typed stays within.

    Raises
    ------
    NumberError
        If it is no length, or negative.

    Examples
    --------
    >>> tolerance_um("0.002in"), tolerance_um("0,05")
    (51, 50)
    """
    typed = text.strip()
    unit = Unit.MILLIMETRE
    tolerance_mm = _value(_match(typed, unit), unit, bare_mark)
    if tolerance_mm < 0:
        raise NegativeToleranceError(typed, unit)
    return ceil(tolerance_mm * 1000)


def to_um(millionths: Whole) -> Whole:
    """
    Round stored millimetres to whole micrometres, half to even.

    Parameters
    ----------
    millionths : int or array of int
        Millionths of a millimetre.

    Returns
    -------
    int or array of int
        Micrometres.

    Examples
    --------
    >>> to_um(19_050_500), to_um(19_051_500)
    (19050, 19052)
    """
    whole, rest = millionths // 1000, millionths % 1000
    up = (rest > 500) | ((rest == 500) & (whole % 2 == 1))
    rounded: Whole = whole + up
    return rounded


def decimals_for(standard_uncertainty: float, *, most: int = 6) -> int:
    """
    Find the decimals that show a standard uncertainty with two digits.

    Parameters
    ----------
    standard_uncertainty : float
        Of the value to be printed; 0 if it is exact.
    most : int, optional
        Not more than these.

    Returns
    -------
    int
        Decimals for the value as well (JCGM 100 7.2.6).

    Examples
    --------
    >>> decimals_for(0.02345)
    3
    """
    if not standard_uncertainty > 0:
        return most
    # Rounded first: 0.0996 is 0.10 with two digits.
    exponent = int(f"{standard_uncertainty:.1e}".partition("e")[2])
    return min(max(1 - exponent, 0), most)


def format_value(
    value: float,
    *,
    decimals: int,
    unit: Unit = Unit.ONE,
    keeps_unit: bool = False,
    is_bare: bool = False,
) -> str:
    """
    Print a number with a true minus and its unit, in the way of `written`.

    Parameters
    ----------
    value : float
        In ``unit``; one that is not finite prints as a dash.
    decimals : int
        Decimals, the last one rounded half to even; 0 to 12.
    unit : Unit, optional
        Printed after the number.
    keeps_unit : bool, optional
        Whether a length stays in millimetres wherever it is read, as what a
        rulebook has published does.
    is_bare : bool, optional
        Whether the unit is left out.

    Returns
    -------
    str
        Never a minus before a zero.

    Raises
    ------
    UnprintableError
        If the value is 1e15 or more, or the decimals are not 0 to 12.

    Examples
    --------
    >>> format_value(-0.025, decimals=2, unit=Unit.MILLIMETRE)
    '−0.02 mm'
    """
    if not 0 <= decimals <= _MOST_PRINTED_DECIMALS:
        text = f"{decimals} decimals: 0 to {_MOST_PRINTED_DECIMALS} were expected"
        raise UnprintableError(text)
    if not isfinite(value):
        return "–"
    if abs(value) >= _LARGEST_PRINTED:
        text = f"{value:g}: a value below {_LARGEST_PRINTED:g} was expected"
        raise UnprintableError(text)
    way, symbol = written_now(), unit.symbol
    if unit is Unit.MILLIMETRE and way.is_in_inches and not keeps_unit:
        value, decimals = value / MM_PER_INCH, decimals + MORE_DECIMALS
        symbol = way.lengths_in.value
    # The shortest decimal that is this float: 2.675 rounds as it reads.
    rounded = Decimal(repr(float(value))).quantize(
        Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN
    )
    number = f"{abs(rounded):f}" if not rounded else f"{rounded:f}".replace("-", "−")
    gap = "" if unit is Unit.DEGREE else " "
    shown = way.sign(number)
    return shown if is_bare else f"{shown}{gap}{symbol}".rstrip()


def _match(typed: str, unit: Unit) -> re.Match[str]:
    if not typed:
        raise EmptyNumberError(typed, unit)
    if len(typed) > _LONGEST_TEXT:
        raise LongNumberError(typed, unit)
    match = _TYPED.fullmatch(typed)
    if match is None or (match["mark"] and match["mark"].casefold() not in _MARKS):
        raise diagnose(typed, unit)
    if len(match["number"]) > _LONGEST_NUMBER:
        raise LongNumberError(typed, unit)
    return match


def _value(match: re.Match[str], unit: Unit, bare_mark: str) -> Fraction:
    mark = match["mark"] or bare_mark
    kind, factor = _MARKS[mark.casefold()] if mark else (unit, Fraction(1))
    if kind is not unit:
        raise WrongUnitError(match.string, unit, mark, kind)
    size = _size(match, inches=factor == _INCH, unit=unit) * factor
    if size >= _LARGEST:
        raise LargeNumberError(match.string, unit)
    return -size if match["sign"] in {"-", "−"} else size


def _size(match: re.Match[str], *, inches: bool, unit: Unit) -> Fraction:
    if match["decimal"]:
        return Fraction(match["decimal"].replace(",", "."))
    top, bottom = int(match["top"]), int(match["bottom"])
    # Halves to sixty-fourths come out in whole millionths of a millimetre; a
    # thirtieth is a slip of the finger.
    if not inches or bottom not in {2, 4, 8, 16, 32, 64} or top >= bottom:
        raise FractionError(match.string, unit)
    return int(match["whole"] or 0) + Fraction(top, bottom)
