"""
Which one more reading would settle a car, and with what chance.

A reading more draws the mean of its column nearer to the truth by as much variance as
its u loses, and nobody knows which way: the new mean is normal about the old one with
just that variance (the value of an experiment before it is made, Lindley, On a measure
of the information provided by an experiment, 1956).  A car is settled where every rule
is a pass beyond doubt or one is a fail beyond doubt, and reading stops there (Wald,
Sequential Analysis, 1947).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy

from inventory.compute.arrays import Floats

#: Below this chance a reading is not worth asking for.
LEAST_CHANCE: Final = 0.05
# Where the new mean may come to lie, each place as likely as the next.
_PLACES: Final = scipy.special.ndtri((np.arange(400) + 0.5) / 400)


@dataclass(frozen=True, kw_only=True, eq=False)
class Unsettled:
    """
    What is known of a car of which some rule is in doubt.

    Attributes
    ----------
    above, below : (rules,) ndarray
        From the lower limit up to the value, and from the value up to the upper limit;
        infinite where there is none.
    u : (rules,) ndarray
        Standard uncertainty of the values.
    factor : (rules,) ndarray
        Guard band over u.
    slope : (rules, columns) ndarray
        By how much the value changes with each column that may be read again.
    gain : (columns,) ndarray
        Variance that one more reading takes off the column.
    most : (columns,) ndarray
        Variance that endless readings with this gauge would take off.
    """

    above: Floats
    below: Floats
    u: Floats
    factor: Floats
    slope: Floats
    gain: Floats
    most: Floats


@dataclass(frozen=True, kw_only=True)
class NextReading:
    """
    The reading to take next.

    Attributes
    ----------
    column : int or None
        Its place among the columns; None where none is worth it.
    chance : float
        That it settles the car.
    ever : float
        That endless readings with these gauges would: where this is small too, the
        gauge cannot tell.
    """

    column: int | None
    chance: float
    ever: float


def next_reading(car: Unsettled) -> NextReading:
    """
    Choose the reading that is likeliest to settle the car.

    Parameters
    ----------
    car : Unsettled
        With a rule in doubt.

    Returns
    -------
    NextReading

    Examples
    --------
    A width 0.02 inside its limit, u 0.03 of which 0.026 is scatter of one reading: one
    more seldom does it, endless ones may.

    >>> car = Unsettled(
    ...     above=np.array([np.inf]), below=np.array([0.02]),
    ...     u=np.array([0.03]), factor=np.array([1.645]), slope=np.array([[1.0]]),
    ...     gain=np.array([0.026**2 / 2]), most=np.array([0.026**2]),
    ... )
    >>> step = next_reading(car)
    >>> step.column, round(step.chance, 2), round(step.ever, 2)
    (0, 0.15, 0.47)
    """
    chances = chances_of(car, car.gain)
    ever = _settled(car, car.slope**2 @ car.most)
    if not chances.size or not np.any(car.gain > 0):
        return NextReading(column=None, chance=0.0, ever=ever)
    best = int(np.argmax(chances))
    # Where one cannot, two or three of the same may: the one that gains most is next.
    if chances[best] < LEAST_CHANCE and ever >= LEAST_CHANCE:
        share = np.max((car.slope / car.u[:, None]) ** 2, axis=0)
        best = int(np.argmax(share * car.gain))
    worth = chances[best] >= LEAST_CHANCE or ever >= LEAST_CHANCE
    return NextReading(
        column=best if worth else None, chance=float(chances[best]), ever=ever
    )


def chances_of(car: Unsettled, gain: Floats) -> Floats:
    """
    Give the chance of each column that its next reading settles the car.

    Parameters
    ----------
    car : Unsettled
        With a rule in doubt.
    gain : (columns,) ndarray
        Variance taken off each.

    Returns
    -------
    (columns,) ndarray
    """
    return np.array(
        [
            _settled_along(car, car.slope[:, place] * np.sqrt(gain[place]))
            for place in range(len(gain))
        ]
    )


def _settled_along(car: Unsettled, moved: Floats) -> float:
    """Move all rules of a column together: by ``moved`` a standard deviation."""
    u = np.sqrt(np.maximum(car.u**2 - moved**2, 0.0))
    band = (car.factor * u)[:, None]
    shift = moved[:, None] * _PLACES
    above, below = car.above[:, None] + shift, car.below[:, None] - shift
    passes = ((above >= band) & (below >= band)).all(axis=0)
    fails = ((above <= -band) | (below <= -band)).any(axis=0)
    return float(np.mean(passes | fails))


def _settled(car: Unsettled, variance: Floats) -> float:
    """Read all columns endlessly: rules move each by its own, taken as independent."""
    u = np.sqrt(np.maximum(car.u**2 - variance, 0.0))
    band = car.factor * u
    spread = np.sqrt(variance)
    with np.errstate(divide="ignore", invalid="ignore"):
        up = np.where(spread > 0, (car.above - band) / spread, 0.0)
        down = np.where(spread > 0, (car.below - band) / spread, 0.0)
        out_low = np.where(spread > 0, (-band - car.above) / spread, 0.0)
        out_high = np.where(spread > 0, (-band - car.below) / spread, 0.0)
    ndtr = scipy.special.ndtr
    still = spread <= 0
    passes = np.where(
        still,
        (car.above >= band) & (car.below >= band),
        np.maximum(ndtr(down) - ndtr(-up), 0.0),
    )
    fails = np.where(
        still,
        (car.above <= -band) | (car.below <= -band),
        np.minimum(ndtr(out_low) + ndtr(out_high), 1.0),
    )
    return float(np.prod(passes) + 1 - np.prod(1 - fails))
