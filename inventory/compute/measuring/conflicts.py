"""
Two sets of readings of one quantity: whether both can stand.

Estimates of one unit in, the difference in the same unit out.
"""

from dataclasses import dataclass
from math import hypot

from inventory.compute.measuring.readings import Estimate, GoGauge, GoOutcome


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
        Whether both are off one gauge in one mode since one check: its error then
        cancels.

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


def sets_disagree(
    first: Estimate | GoGauge, second: Estimate | GoGauge, *, same_gauge: bool
) -> bool:
    """
    Say whether two sets of one quantity contradict each other, by whatever gauge.

    A slip that goes says that the gap is at least its size, one that does not that
    it is less.

    Parameters
    ----------
    first, second : Estimate or GoGauge
        What each set gives; an estimate may be that of two slips.
    same_gauge : bool
        As for `set_difference`.

    Returns
    -------
    bool
        True if a size is beyond a slip by more than twice the standard uncertainty
        of their difference, or a slip goes where one as thin or thinner does not.

    Examples
    --------
    >>> read = Estimate(value=0.90, random=0.01, systematic=0.01, count=3)
    >>> goes = GoGauge(limit=1.0, outcome=GoOutcome.PASS, standard_uncertainty=0.003)
    >>> stops = GoGauge(limit=1.0, outcome=GoOutcome.FAIL, standard_uncertainty=0.003)
    >>> sets_disagree(read, goes, same_gauge=False)
    True
    >>> sets_disagree(read, stops, same_gauge=False)
    False
    """
    if isinstance(first, GoGauge):
        if isinstance(second, GoGauge):
            return _slips_disagree(first, second)
        return _is_beyond(second, first)
    if isinstance(second, GoGauge):
        return _is_beyond(first, second)
    return set_difference(first, second, same_gauge=same_gauge).conflict


def _slips_disagree(first: GoGauge, second: GoGauge) -> bool:
    if first.outcome is second.outcome:
        return False
    goes, stops = (
        (first, second) if first.outcome is GoOutcome.PASS else (second, first)
    )
    return round(goes.limit - stops.limit, 6) >= 0


def _is_beyond(read: Estimate, slip: GoGauge) -> bool:
    beyond = slip.limit - read.value
    if slip.outcome is GoOutcome.FAIL:
        beyond = -beyond
    u_beyond = hypot(read.standard_uncertainty, slip.standard_uncertainty)
    return round(beyond, 6) > round(2 * u_beyond, 6)
