"""
The way in which numbers are written for whoever reads: decimal sign, unit of lengths.

A page sets it once, for all that is written while it is made; outside of a page it is
the point and the millimetre, so that what is sealed, stored or given to a machine is
written in one way everywhere.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Final

from inventory.compute.club_ways import DecimalSign, LengthShown

MM_PER_INCH: Final = 25.4
#: A hundredth of a millimetre is four ten-thousandths of an inch: what differs as it
#: is written in millimetres still does in inches.
MORE_DECIMALS: Final = 2


@dataclass(frozen=True, kw_only=True)
class Written:
    """
    How numbers are written.

    Examples
    --------
    >>> Written(decimal_sign=DecimalSign.COMMA).sign("20.11")
    '20,11'
    """

    decimal_sign: DecimalSign = DecimalSign.POINT
    lengths_in: LengthShown = LengthShown.MILLIMETRE

    @property
    def is_in_inches(self) -> bool:
        """Whether lengths are read in inches."""
        return self.lengths_in is LengthShown.INCH

    def sign(self, number: str) -> str:
        """Put the decimal sign into a number that was written with a point."""
        return number.replace(DecimalSign.POINT, self.decimal_sign)


_USUAL: Final = Written()
_way: ContextVar[Callable[[], Written]] = ContextVar("way", default=lambda: _USUAL)


def written_now() -> Written:
    """
    Give the way in which numbers are written now.

    Returns
    -------
    Written
        What `writing` set; outside of it the point and the millimetre.

    Examples
    --------
    >>> written_now().decimal_sign.value
    '.'
    """
    return _way.get()()


@contextmanager
def writing(way: Callable[[], Written]) -> Iterator[None]:
    """
    Let what is written meanwhile be written in a way, asked for when it is.

    Parameters
    ----------
    way : callable
        Gives the way; called each time that a number is written.

    Yields
    ------
    None
        The way before holds again afterwards.

    Examples
    --------
    >>> with writing(lambda: Written(decimal_sign=DecimalSign.COMMA)):
    ...     print(written_now().sign("20.11"))
    20,11
    """
    token = _way.set(way)
    try:
        yield
    finally:
        _way.reset(token)
