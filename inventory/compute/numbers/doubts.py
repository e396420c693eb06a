"""A value with its standard uncertainty, printed to the place where both have sense."""

from math import isfinite

from inventory.compute.numbers.units import Unit, decimals_for, format_value
from inventory.compute.numbers.written import MM_PER_INCH, written_now

#: Nothing is stored, and so nothing is known, beyond a millionth.
_MOST_DECIMALS = 6
_NO_DOUBT = 0.5e-6


def format_u(u_value: float, *, unit: Unit = Unit.ONE) -> str:
    """
    Print a standard uncertainty with two significant digits (JCGM 100 7.2.6).

    Parameters
    ----------
    u_value : float
        In ``unit``; not negative.
    unit : Unit, optional
        Printed after the number.

    Returns
    -------
    str
        Nothing where there is none to print: never 0.00.

    Examples
    --------
    >>> format_u(0.01322, unit=Unit.MILLIMETRE), format_u(234.0), format_u(0.0)
    ('0.013 mm', '230', '')
    """
    if not _is_doubtful(u_value):
        return ""
    (shown,), symbol = _as_read((u_value,), unit)
    text = format_value(round_by_u(shown, shown), decimals=decimals_for(shown))
    return f"{text}{symbol}"


def format_with_u(value: float, u_value: float, *, unit: Unit = Unit.ONE) -> str:
    """
    Print a value ± its standard uncertainty, both to the same place.

    Two significant digits of the uncertainty, at most six decimals; the value ends
    where it does (JCGM 100 7.2.6).

    Parameters
    ----------
    value : float
        In ``unit``.
    u_value : float
        Its standard uncertainty, not negative; at 0 the value stands alone.
    unit : Unit, optional
        Printed after both.

    Returns
    -------
    str
        Never ± 0.00.

    Examples
    --------
    >>> format_with_u(18.29954, 0.00312, unit=Unit.MILLIMETRE)
    '18.2995 ± 0.0031 mm'
    >>> format_with_u(24954.0, 234.0, unit=Unit.RPM)
    '24950 ± 230 rpm'
    """
    if not isfinite(value):
        return format_value(value, decimals=0)
    if not _is_doubtful(u_value):
        return format_value(value, decimals=_exact_decimals(value), unit=unit)
    (value, u_value), symbol = _as_read((value, u_value), unit)
    shown = format_value(round_by_u(value, u_value), decimals=decimals_for(u_value))
    return f"{shown} ± {format_u(u_value)}{symbol}"


def round_by_u(value: float, u_value: float) -> float:
    """
    Round to tens and more where the second digit of the uncertainty stands there.

    Parameters
    ----------
    value : float
        Finite.
    u_value : float
        Its standard uncertainty, above 0.

    Returns
    -------
    float
        To be printed with `decimals_for` of the uncertainty.

    Examples
    --------
    >>> round_by_u(24954.0, 234.0), round_by_u(18.29954, 0.00312)
    (24950.0, 18.29954)
    """
    exponent = int(f"{u_value:.1e}".partition("e")[2])
    return float(round(value, 1 - exponent)) if exponent > 1 else value


def _as_read(values: tuple[float, ...], unit: Unit) -> tuple[tuple[float, ...], str]:
    """Give values in the unit that they are read in, and what follows the last."""
    way = written_now()
    if unit is Unit.MILLIMETRE and way.is_in_inches:
        return tuple(each / MM_PER_INCH for each in values), f" {way.lengths_in}"
    gap = "" if unit is Unit.DEGREE or not unit.symbol else " "
    return values, f"{gap}{unit.symbol}"


def _is_doubtful(u_value: float) -> bool:
    return isfinite(u_value) and u_value >= _NO_DOUBT


def _exact_decimals(value: float) -> int:
    """Count the decimals that a stored value has, two at least."""
    shown = f"{value:.{_MOST_DECIMALS}f}".rstrip("0")
    return max(len(shown.partition(".")[2]), 2)
