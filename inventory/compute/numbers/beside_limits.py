"""
Digits for what stands beside a limit, so that rounding never crosses it.

Values and limits are compared rounded to a millionth; what is printed is to read the
same way.
"""

from collections.abc import Iterable
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from math import isfinite
from typing import Final

_MOST_DECIMALS: Final = 6


def exact_decimals(value: float, *, least: int) -> int:
    """
    Count the decimals that a number has, to a millionth.

    Parameters
    ----------
    value : float
        A limit: it is printed with every digit it has.
    least : int
        No fewer than these.

    Returns
    -------
    int
        Up to six, unless more are the least.

    Examples
    --------
    >>> exact_decimals(1.190625, least=2), exact_decimals(18.3, least=2)
    (6, 2)
    """
    if not isfinite(value):
        return least
    digits = -int(_millionths(value).normalize().as_tuple().exponent)
    return max(digits, least)


def decimals_beside(
    value: float, limits: Iterable[float | None], *, decimals: int
) -> int:
    """
    Find the fewest decimals at which a value reads as it stands to its limits.

    Parameters
    ----------
    value : float
        What is printed.
    limits : iterable of float or None
        What it is compared with, printed with all their digits; 0 for a margin.
    decimals : int
        No fewer than these.

    Returns
    -------
    int
        Up to six, unless more are the fewest.

    Examples
    --------
    >>> decimals_beside(18.2996, [18.3, None], decimals=2)
    4
    >>> decimals_beside(18.4, [18.3, None], decimals=2)
    2
    """
    if not isfinite(value):
        return decimals
    exact = _millionths(value)
    known = [_millionths(limit) for limit in limits if _is_known(limit)]
    for count in range(decimals, _MOST_DECIMALS):
        # A float may be rounded as what it is, or as it reads.
        read = {_rounded(exact, count), Decimal(repr(round(float(exact), count)))}
        if all(_order(one, at) == _order(exact, at) for one in read for at in known):
            return count
    return max(decimals, _MOST_DECIMALS)


def round_up(value: float, *, decimals: int) -> float:
    """
    Round the least that will do, so that it still does.

    Parameters
    ----------
    value : float
        The least, to a millionth.
    decimals : int
        Decimals to print.

    Returns
    -------
    float
        No less than it.

    Examples
    --------
    >>> round_up(19.4001, decimals=2), round_up(19.4, decimals=2)
    (19.41, 19.4)
    """
    return _towards(value, decimals, ROUND_CEILING)


def round_down(value: float, *, decimals: int) -> float:
    """
    Round the most that will do, so that it still does.

    Parameters
    ----------
    value : float
        The most, to a millionth.
    decimals : int
        Decimals to print.

    Returns
    -------
    float
        No more than it.

    Examples
    --------
    >>> round_down(19.4099, decimals=2)
    19.4
    """
    return _towards(value, decimals, ROUND_FLOOR)


def _towards(value: float, decimals: int, rounding: str) -> float:
    if not isfinite(value):
        return value
    step = Decimal(1).scaleb(-decimals)
    return float(_millionths(value).quantize(step, rounding=rounding))


def _is_known(limit: float | None) -> bool:
    return limit is not None and isfinite(limit)


def _millionths(value: float | None) -> Decimal:
    return _rounded(Decimal(repr(float(value or 0.0))), _MOST_DECIMALS)


def _rounded(value: Decimal, decimals: int) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN)


def _order(one: Decimal, other: Decimal) -> int:
    return (one > other) - (one < other)
