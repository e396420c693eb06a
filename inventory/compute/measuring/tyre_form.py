"""
A tyre's diameter and form, from readings round the tread at several sections.

mm in, mm out; sections run from the inner edge to the outer.  Readings of a section
are taken to be 60 degrees apart, the fourth where the first was.

Flat jaws span a tyre from one side to the other, so they see lobes of even number
alone: two lobes make the diameter go up and down twice a turn, and so does the
reading.  Three readings 60 degrees apart have a mean that is free of two lobes and of
four; a single one is off by anything up to half of out of round, more often near the
ends than the middle (the arcsine law, JCGM 100:2008 H.1.3.4: u = a / sqrt 2).  Three
lobes give the same reading at every angle and nothing here can tell them from a round
tyre.
"""

from dataclasses import dataclass, replace
from functools import cache
from math import radians, sqrt
from typing import Final

import numpy as np
import scipy
from numpy.typing import ArrayLike

from inventory.compute.arrays import Floats, Ints
from inventory.compute.measuring.gauges import Gauge, Gauges
from inventory.compute.measuring.readings import (
    Estimate,
    Estimates,
    estimates_from_spread,
)
from inventory.compute.measuring.repeats import (
    Repeats,
    WrongShapeError,
    as_readings,
    nan_for_none,
    summarise,
)

#: Out of round of a tyre of which no more is known: common practice, no source.
USUAL_OUT_OF_ROUND_MM: Final = 0.05
# So well are 60 degrees met by eye and hand: common practice, no source.
_PLACED: Final = radians(10.0)
_ANGLES: Final = 3
# A step of width d hides the value: JCGM 100:2008 F.2.2.1.
_WIDTH: Final = sqrt(12.0)


@dataclass(frozen=True, kw_only=True)
class TyreForm:
    """A tyre's diameter and form; a form that was not read is NaN."""

    diameter: Estimate
    out_of_round: float
    taper: float


@dataclass(frozen=True, kw_only=True, eq=False)
class TyreForms:
    """As `TyreForm`, arrays of the parts' shape."""

    diameter: Estimates
    out_of_round: Floats
    taper: Floats


def tyre_form(readings: ArrayLike, gauge: Gauge) -> TyreForm:
    """
    Make out one tyre's diameter, out of round and taper.

    Parameters
    ----------
    readings : (sections, angles) array_like of float
        Diameters, sections from the inner to the outer edge; NaN not taken.
    gauge : Gauge
        What they were read with.

    Returns
    -------
    TyreForm
        ``diameter`` the mean of the sections, its ``random`` from the gauge's
        scatter and from what its form leaves in the mean; ``out_of_round`` largest
        minus smallest over the angles of one section, the worst section, less what
        scatter alone would make of it; ``taper`` outer minus inner section mean,
        signed.

    Raises
    ------
    NoReadingError, NotAReadingError, WrongShapeError
        If there is none, one is infinite, or they are not one tyre's.

    Examples
    --------
    >>> gauge = Gauge(resolution=0.01, max_permissible_error=0.02, repeatability=0.004)
    >>> form = tyre_form([[12.30, 12.34], [12.40, 12.42]], gauge)
    >>> round(form.out_of_round, 3), round(form.taper, 6)
    (0.035, 0.09)
    """
    table = as_readings(readings)
    if table.ndim != 2:
        msg = f"expected sections by angles, not {table.ndim} axes"
        raise WrongShapeError(msg)
    forms = tyre_forms(table, gauge)
    return TyreForm(
        diameter=forms.diameter.only(),
        out_of_round=float(forms.out_of_round),
        taper=float(forms.taper),
    )


def estimate_round(readings: ArrayLike, gauge: Gauge) -> Estimate:
    """
    Estimate a tyre's diameter from readings round one section.

    Parameters
    ----------
    readings : (n,) array_like of float
        At least one, 60 degrees apart in the order in which they were taken.
    gauge : Gauge
        What they were read with.

    Returns
    -------
    Estimate

    Raises
    ------
    NoReadingError, NotAReadingError, WrongShapeError
        As for `tyre_form`.

    Examples
    --------
    >>> caliper = Gauge(resolution=0.0, max_permissible_error=0.0, repeatability=0.03)
    >>> [round(estimate_round([20.0] * n, caliper).random, 3) for n in (1, 2, 3)]
    [0.035, 0.023, 0.018]
    """
    return tyre_form(np.atleast_2d(as_readings(readings)), gauge).diameter


def tyre_forms(readings: ArrayLike, gauge: Gauge | Gauges) -> TyreForms:
    """
    Make out the diameter and form of many tyres at once.

    Parameters
    ----------
    readings : (..., sections, angles) array_like of float
        As for `tyre_form`; NaN not taken.
    gauge : Gauge or Gauges
        One for all, or arrays that broadcast against ``(...)``.

    Returns
    -------
    TyreForms
        Arrays of shape ``(...)``.  Out of round needs two angles of a section,
        taper the first and the last section; else NaN.

    Raises
    ------
    NotAReadingError, WrongShapeError
        If a reading is infinite, or there are no two axes.

    Examples
    --------
    >>> gauge = Gauge(resolution=0.01, max_permissible_error=0.02, repeatability=0.02)
    >>> tyre_forms([[[12.25, 12.5]], [[9.5, 9.51]]], gauge).out_of_round.round(3)
    array([0.248, 0.   ])
    """
    table = as_readings(readings, axes=2)
    sections = summarise(table)
    whole = summarise(sections.mean)
    # Neither a cone nor lobes may pass for scatter.
    free = scatter_free_of_form(table)
    own = np.sqrt(free.squares / np.maximum(free.freedom, 1))
    scatter = np.maximum(own, gauge.repeatability)
    in_section = np.nansum(1 / nan_for_none(sections.count), axis=-1)
    diameter = estimates_from_spread(
        whole.mean,
        spread=scatter,
        share=np.sqrt(in_section) / nan_for_none(whole.count),
        count=sections.count.sum(axis=-1),
        gauge=gauge,
    )
    lobes = _lobes(sections, scatter)
    return TyreForms(
        diameter=replace(
            diameter,
            random=np.hypot(diameter.random, lobes * _left_in_mean(sections.count)),
        ),
        out_of_round=_out_of_round(
            table, sections.count, np.hypot(scatter, gauge.resolution / _WIDTH)
        ),
        taper=_taper(sections.mean),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Scatter:
    """Squares and degrees of freedom of what is left once form is taken out."""

    squares: Floats
    freedom: Ints


def scatter_free_of_form(table: Floats) -> Scatter:
    """
    Take the means of sections and angles out, where that leaves anything.

    All sections of a tyre were read at the same angles: what an angle has in all of
    them is form (a two-way layout without interaction, Montgomery, Design and
    Analysis of Experiments, ch. 5).  Of one section only what was read again at an
    angle is scatter.

    Parameters
    ----------
    table : (..., sections, angles) array of float
        NaN not taken.

    Returns
    -------
    Scatter
        Arrays of shape ``(...)``.
    """
    by_angle = _repeats_at_angles(table)
    taken = ~np.isnan(table)
    in_section = np.asarray(taken.any(axis=-1))
    at_angle = np.asarray(taken.any(axis=-2))
    full = (taken == in_section[..., None] & at_angle[..., None, :]).all(axis=(-1, -2))
    away = table - summarise(table).mean[..., None]
    angles = summarise(np.swapaxes(away, -1, -2)).mean
    left = np.nansum((away - angles[..., None, :]) ** 2, axis=(-1, -2))
    freedom = np.maximum(in_section.sum(axis=-1) - 1, 0) * np.maximum(
        at_angle.sum(axis=-1) - 1, 0
    )
    crossed = full & (freedom > 0)
    return Scatter(
        squares=np.where(crossed, left, by_angle.squares),
        freedom=np.where(crossed, freedom, by_angle.freedom),
    )


def _repeats_at_angles(table: Floats) -> Scatter:
    """Give the scatter of what was read again at an angle, three angles in turn."""
    places = [summarise(table[..., start::_ANGLES]) for start in range(_ANGLES)]
    return Scatter(
        squares=np.sum([one.squares.sum(axis=-1) for one in places], axis=0),
        freedom=np.sum(
            [np.maximum(one.count - 1, 0).sum(axis=-1) for one in places], axis=0
        ),
    )


def _lobes(sections: Repeats, scatter: Floats) -> Floats:
    """
    Give half of out of round: what is usual, or what the readings show if more.

    Two lobes of half-height a add a²·n/2 to the squares of n readings evenly round,
    and on average a²·3/4 to those of two that are 60 degrees apart.
    """
    count = sections.count
    made = np.where(count == 2, 0.75, np.where(count > 2, count / 2, 0.0)).sum(axis=-1)
    freedom = np.maximum(count - 1, 0).sum(axis=-1)
    beyond = np.maximum(sections.squares.sum(axis=-1) - freedom * scatter**2, 0.0)
    shown = np.sqrt(beyond / np.where(made > 0, made, np.inf))
    lobes: Floats = np.maximum(shown, USUAL_OUT_OF_ROUND_MM / 2)
    return lobes


def _left_in_mean(count: Ints) -> Floats:
    """
    Give the standard uncertainty that lobes of half-height 1 leave in the mean.

    Angles that are a multiple of three cancel, but for how well they were met; else
    as much is left as one reading has, shared among all.
    """
    read = np.maximum(count, 1)
    uneven = np.where(count % _ANGLES, 1.0, 0.0) / read
    missed = np.where(count > 1, 2 * _PLACED / np.sqrt(read), 0.0)
    left = np.where(count > 0, np.hypot(uneven, missed), np.nan)
    share: Floats = summarise(left).mean / np.sqrt(2.0)
    return share


def _out_of_round(table: Floats, angles: Ints, scatter: Floats) -> Floats:
    largest = np.fmax.reduce(table, axis=-1, initial=-np.inf)
    smallest = np.fmin.reduce(table, axis=-1, initial=np.inf)
    over_angles = np.where(angles > 1, largest - smallest, np.nan)
    worst: Floats = np.fmax.reduce(over_angles, axis=-1, initial=np.nan)
    most = np.max(angles, axis=-1, initial=0)
    read = (angles > 1).sum(axis=-1)
    alone = np.zeros(worst.shape)
    for count, sections in {*zip(most.flat, read.flat, strict=True)}:
        if sections:
            here = (most == count) & (read == sections)
            alone[here] = _range_of_scatter(int(count), int(sections))
    return np.sqrt(np.maximum(worst**2 - alone * scatter**2, 0.0))


@cache
def _range_of_scatter(count: int, sections: int) -> float:
    """
    Give the mean square of the widest of some ranges, each of so many readings.

    Of standard normal scatter.  The range of n is at most w with the probability
    n ∫ φ(x) (Φ(x + w) - Φ(x))^(n-1) dx (Tippett, Biometrika 17, 1925).
    """
    x = np.linspace(-8.0, 8.0, 161)
    w = np.linspace(0.0, 12.0, 241)
    density = np.exp(-(x**2) / 2) / np.sqrt(2 * np.pi)
    between = scipy.special.ndtr(x + w[:, None]) - scipy.special.ndtr(x)
    one = count * np.trapezoid(density * between ** (count - 1), x, axis=1)
    return float(np.trapezoid(2 * w * (1 - np.clip(one, 0, 1) ** sections), w))


def _taper(section_mean: Floats) -> Floats:
    if section_mean.shape[-1] < 2:
        return np.full(section_mean.shape[:-1], np.nan)
    taper: Floats = section_mean[..., -1] - section_mean[..., 0]
    return taper
