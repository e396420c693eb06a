"""
Wear of a car's tyres by its own past: what a night takes off.

Millimetres on the mean diameter; nights are counted by those who call.
"""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class WornTyres:
    """
    One pair of tyres, measured once.

    ``races`` is how many races the car has run before, in all; only differences
    count.
    """

    races: int
    diameter_mm: float


def wear_per_night_mm(pairs: Sequence[Sequence[WornTyres]]) -> float | None:
    """
    Say what a night takes off a car's tyres, over all the pairs that it wore.

    Parameters
    ----------
    pairs : sequence of sequence of WornTyres
        The measurements of each pair, the oldest first.

    Returns
    -------
    float or None
        Mm off the mean diameter a race; None where no pair was measured before and
        after a race, or none of them has become smaller.

    Examples
    --------
    >>> first = WornTyres(races=0, diameter_mm=20.4)
    >>> later = WornTyres(races=3, diameter_mm=20.25)
    >>> round(wear_per_night_mm([[first, later]]), 6)
    0.05
    """
    ends = [(pair[0], pair[-1]) for pair in pairs if pair]
    races = sum(last.races - first.races for first, last in ends)
    lost = sum(
        first.diameter_mm - last.diameter_mm
        for first, last in ends
        if last.races > first.races
    )
    # Below a micrometre it is the reading that has changed.
    if races <= 0 or lost < 0.001:
        return None
    return lost / races
