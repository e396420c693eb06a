"""Stored numbers are whole millionths of their unit: to floats and back."""

from typing import Final

MILLION: Final = 1_000_000


def from_millionths(stored: float) -> float:
    """
    Give a stored number in its unit.

    Parameters
    ----------
    stored : float
        In millionths of its unit.

    Returns
    -------
    float
        In the unit itself.

    Examples
    --------
    >>> from_millionths(20_110_000)
    20.11
    """
    return stored / MILLION


def to_millionths(value: float) -> int:
    """
    Round a number to what is stored of it, half to even as `round` does.

    Parameters
    ----------
    value : float
        In its unit; finite.

    Returns
    -------
    int
        In millionths of the unit.

    Examples
    --------
    >>> to_millionths(20.11)
    20110000
    """
    return round(value * MILLION)
