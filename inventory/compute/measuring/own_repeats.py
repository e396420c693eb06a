"""
What one person's repeats with one gauge scatter by, pooled over all they read.

A few repeats say little of a spread and many say it well, so what the club's own
readings show is drawn to the registry's figure while they are few, and stands by
itself once they are not: pooled as in JCGM 100:2008 4.2.4, drawn by a scaled inverse
chi-square of the registry's variance (Gelman et al., Bayesian Data Analysis, 3rd ed.,
2.6 and ch. 5).  Values in the quantity's unit.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import fsum, sqrt
from typing import Final

import numpy as np
import scipy

from inventory.compute.measuring.gauges import Gauge
from inventory.compute.measuring.readings import Estimate, estimate
from inventory.compute.measuring.tyre_form import (
    estimate_round,
    scatter_free_of_form,
)

#: From so many repeats on, readings beyond the first of their set, a person's own
#: figure counts whatever the registry says.
ENOUGH_REPEATS: Final = 30
# The registry's figure is worth one repeat, a unit of information: so u covers 95 of
# 100 to within 2 after the thirty, for who scatters half or twice as much.
_WORTH: Final = 1
# A set that scatters as only one of a thousand does speaks for itself.
_RARE: Final = 0.999


@dataclass(frozen=True, kw_only=True)
class OwnScatter:
    """
    Squared distances of readings from what is read, form taken out, and how many.

    Two add up to both together.
    """

    repeats: int = 0
    squares: float = 0.0

    def __add__(self, other: "OwnScatter") -> "OwnScatter":
        return OwnScatter(
            repeats=self.repeats + other.repeats, squares=self.squares + other.squares
        )

    @property
    def is_enough(self) -> bool:
        """Whether it counts by itself."""
        return self.repeats >= ENOUGH_REPEATS

    def drawn_to(self, usual: float) -> float:
        """
        Give the standard deviation that it shows, drawn to the usual one while few.

        Parameters
        ----------
        usual : float
            The registry's, in the same unit.

        Returns
        -------
        float

        Examples
        --------
        >>> own = OwnScatter(repeats=30, squares=30 * 0.01**2)
        >>> round(own.drawn_to(0.02), 4), OwnScatter().drawn_to(0.02)
        (0.0105, 0.02)
        """
        weight = _WORTH + self.repeats
        return sqrt((_WORTH * usual**2 + self.squares) / weight)

    def counts_as(self, usual: float) -> float:
        """
        Give the standard deviation that goes into u.

        Until it is enough, the larger of the registry's and what it shows.

        Examples
        --------
        >>> few = OwnScatter(repeats=8, squares=8 * 0.01**2)
        >>> few.counts_as(0.02)
        0.02
        """
        drawn = self.drawn_to(usual)
        return drawn if self.is_enough else max(drawn, usual)


def own_scatter(sets: Iterable[Sequence[float]], *, is_round: bool) -> OwnScatter:
    """
    Pool the scatter of sets of repeats.

    Parameters
    ----------
    sets : iterable of sequence of float
        Readings of one thing each, in the order in which they were taken.
    is_round : bool
        Whether they go round a tyre: then only what was read again at one of its
        three angles is scatter, the rest is form.

    Returns
    -------
    OwnScatter

    Examples
    --------
    >>> own_scatter([[1.00, 1.02], [2.0]], is_round=False).repeats
    1
    >>> own_scatter([[20.0, 20.1, 19.9]], is_round=True).repeats
    0
    """
    total = OwnScatter()
    for readings in sets:
        if is_round:
            total += own_scatter_of_tyre([readings])
        elif len(readings) > 1:
            mean = fsum(readings) / len(readings)
            total += OwnScatter(
                repeats=len(readings) - 1,
                squares=fsum((one - mean) ** 2 for one in readings),
            )
    return total


def own_scatter_of_tyre(sections: Sequence[Sequence[float]]) -> OwnScatter:
    """
    Give the scatter in one tyre's readings, sections by angles, form taken out.

    Parameters
    ----------
    sections : sequence of sequence of float
        Diameters, mm: a row a section across the width, in it one an angle; rows may be
        of different lengths.

    Returns
    -------
    OwnScatter
        How many repeats are in it, and the sum of their squares, mm².

    Examples
    --------
    >>> oval_cone = [[20.0, 20.1, 20.0], [20.2, 20.3, 20.2]]
    >>> own = own_scatter_of_tyre(oval_cone)
    >>> own.repeats, round(own.squares, 9)
    (2, 0.0)
    """
    most = max((len(one) for one in sections), default=0)
    table = np.full((max(len(sections), 1), max(most, 1)), np.nan)
    for row, readings in enumerate(sections):
        table[row, : len(readings)] = readings
    left = scatter_free_of_form(table)
    return OwnScatter(repeats=int(left.freedom), squares=float(left.squares))


def estimate_by_own(
    readings: Sequence[float], gauge: Gauge, own: OwnScatter, *, is_round: bool
) -> Estimate:
    """
    Estimate as `estimate` or `estimate_round` do, by a person's own scatter.

    Parameters
    ----------
    readings : sequence of float
        Of one set.
    gauge : Gauge
        Its repeatability is the registry's and the gauge's, the larger one.
    own : OwnScatter
        Of the person with this gauge, before these readings.
    is_round : bool
        Whether they go round a tyre.

    Returns
    -------
    Estimate
        ``random`` from the own figure once that is enough, whatever these few
        readings scatter by, unless it is more than one set of a thousand would.

    Examples
    --------
    >>> caliper = Gauge(resolution=0.0, max_permissible_error=0.0, repeatability=0.03)
    >>> careful = OwnScatter(repeats=60, squares=60 * 0.01**2)
    >>> made = estimate_by_own([20.0, 20.03], caliper, careful, is_round=False)
    >>> round(made.random, 4)
    0.0075
    """
    by = Gauge(
        gauge.resolution,
        gauge.max_permissible_error,
        own.counts_as(gauge.repeatability),
    )
    made = estimate_round(readings, by) if is_round else estimate(readings, by)
    here = own_scatter([readings], is_round=is_round)
    if not own.is_enough or not here.repeats:
        return made
    rare = scipy.special.chdtri(here.repeats, 1 - _RARE) * by.repeatability**2
    spread = sqrt(here.squares / here.repeats)
    if here.squares > rare or spread <= by.repeatability:
        return made
    # What these few scatter by is within what this person always does.
    taken_out = (spread**2 - by.repeatability**2) / len(readings)
    return Estimate(
        value=made.value,
        random=sqrt(max(made.random**2 - taken_out, 0.0)),
        systematic=made.systematic,
        count=made.count,
    )
