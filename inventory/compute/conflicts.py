"""
Two sets of readings of one quantity: whether both can stand.

Estimates of one unit in, the difference in the same unit out.
"""

from dataclasses import dataclass
from math import hypot

from inventory.compute.measuring import Estimate


@dataclass(frozen=True, kw_only=True)
class SetDifference:
    """Second set minus first, its standard uncertainty, and whether they disagree."""

    value: float
    standard_uncertainty: float
    conflict: bool


def set_difference(
    first: Estimate, second: Estimate, *, same_gauge: bool
) -> SetDifference:
    """
    Compare two sets of readings of one quantity.

    Parameters
    ----------
    first, second : Estimate
        What each set gives.
    same_gauge : bool
        Whether both are off one gauge since one check: its error then cancels.

    Returns
    -------
    SetDifference
        ``conflict`` if they differ by more than twice the standard uncertainty
        of their difference, so that one has to be struck.

    Examples
    --------
    >>> one = Estimate(value=12.34, random=0.01, systematic=0.01, count=3)
    >>> two = Estimate(value=12.38, random=0.01, systematic=0.01, count=3)
    >>> set_difference(one, two, same_gauge=True).conflict
    True
    >>> set_difference(one, two, same_gauge=False).conflict
    False
    """
    systematic = (
        second.systematic - first.systematic
        if same_gauge
        else hypot(first.systematic, second.systematic)
    )
    value = second.value - first.value
    u_value = hypot(first.random, second.random, systematic)
    return SetDifference(
        value=value,
        standard_uncertainty=u_value,
        conflict=round(abs(value), 6) > round(2 * u_value, 6),
    )
