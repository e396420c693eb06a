"""
Does it measure: people, trials and a master against a gauge.

Readings in the gauge's unit; standard deviations in the same unit out.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import hypot, sqrt
from typing import ClassVar, Final

import numpy as np
import scipy
from numpy.typing import ArrayLike

from inventory.compute.arrays import Floats
from inventory.compute.errors import ComputeError
from inventory.compute.measuring.gauges import Gauge

# Reciprocals of the mean range of 2 or 3 trials (d2), and of the root mean square
# range of one sample of 2 to 10 (d2*), of a normal law with unit spread: K1, K2 and
# K3 of the average and range form, to its four places.
TRIAL_FACTOR = {2: 0.8862, 3: 0.5908}
RANGE_FACTOR = {
    2: 0.7071,
    3: 0.5231,
    4: 0.4467,
    5: 0.4030,
    6: 0.3742,
    7: 0.3534,
    8: 0.3375,
    9: 0.3249,
    10: 0.3146,
}
# The interaction is pooled into the error where chance alone brings one as large
# more often than this.
POOL_ABOVE = 0.25
# Categories a gauge can tell apart: 1.41 spreads of the parts to one of the gauge.
CATEGORIES = 1.41
# Below this share of the total a spread is the sums' own rounding.
ROUNDING = 1e-9


_LARGEST: Final = 1e12


class StudyMethod(StrEnum):
    """How the spread is split between gauge, people and parts."""

    AVERAGE_AND_RANGE = "average and range"
    ANALYSIS_OF_VARIANCE = "analysis of variance"


class NotAStudyError(ComputeError):
    """Readings are not parts by people by trials, or too few for the method."""

    code: ClassVar[str] = "not_a_study"


class SmallStudyError(NotAStudyError):
    """There are fewer than two parts, people or trials."""


class RangeFactorsError(NotAStudyError):
    """There are more parts, people or trials than there are factors of ranges for."""


class MissingReadingError(ComputeError):
    """A reading is missing; ``position`` is its part, person and trial, from 0."""

    code: ClassVar[str] = "missing_reading"

    def __init__(self, position: tuple[int, ...]) -> None:
        super().__init__(f"reading {position} is missing")
        self.position = position


class NothingVariesError(ComputeError):
    """All readings are the same: there is nothing to split."""

    code: ClassVar[str] = "nothing_varies"


@dataclass(frozen=True, kw_only=True)
class GaugeStudy:
    """
    How much of the spread is the gauge's own.

    Attributes
    ----------
    ev, av : float
        Repeatability (one person, one part) and reproducibility (between people).
    grr : float
        Gauge and people together.
    pv, tv : float
        Between parts, and in total.
    grr_percent : float
        ``grr`` in percent of ``tv``.
    ndc : int or None
        Classes of parts the gauge can tell apart; None if it never strayed.
    interaction : float
        People disagreeing on some parts more than on others; 0 where it was pooled
        or the method cannot see it.
    """

    ev: float
    av: float
    grr: float
    pv: float
    tv: float
    grr_percent: float
    ndc: int | None
    interaction: float = 0.0


def gauge_study(readings: ArrayLike, *, method: StudyMethod | str) -> GaugeStudy:
    """
    Split the spread of readings between gauge, people and parts.

    Parameters
    ----------
    readings : (parts, people, trials) array_like of float
        Every person reads every part as often.  Two or more of each; for average
        and range at most 10 parts, 3 people and 3 trials.
    method : StudyMethod
        How to split it.

    Returns
    -------
    GaugeStudy

    Raises
    ------
    NotAStudyError
        If the shape does not suit the method, or there is no such method.
    MissingReadingError
        If a reading is NaN or infinite, with its position.
    NothingVariesError
        If all readings are the same.

    Examples
    --------
    >>> study = gauge_study(
    ...     [[[20.01, 20.02], [20.02, 20.02]], [[20.11, 20.10], [20.10, 20.12]]],
    ...     method=StudyMethod.ANALYSIS_OF_VARIANCE,
    ... )
    >>> round(study.ev, 4), round(study.grr_percent, 1), study.ndc
    (0.0077, 12.1, 11)
    """
    table = _table(readings)
    try:
        chosen = StudyMethod(method)
    except ValueError as error:
        text = f"{method!r} is not a method"
        raise NotAStudyError(text) from error
    if chosen is StudyMethod.AVERAGE_AND_RANGE:
        return _by_range(table)
    return _by_variance(table)


def _numbers(readings: ArrayLike) -> Floats:
    try:
        table = np.asarray(readings, dtype=np.float64)
    except (TypeError, ValueError) as ragged:
        text = "each part has as many people and trials as the next, all numbers"
        raise NotAStudyError(text) from ragged
    # Squares of more are no numbers.
    if np.abs(table).max(initial=0.0, where=np.isfinite(table)) > _LARGEST:
        text = f"a reading is at most {_LARGEST:g}"
        raise NotAStudyError(text)
    return table


def _table(readings: ArrayLike) -> Floats:
    table = _numbers(readings)
    if table.ndim != 3 or min(table.shape) < 2:
        text = f"a study has two or more parts, people and trials, not {table.shape}"
        raise SmallStudyError(text)
    missing = np.argwhere(~np.isfinite(table))
    if missing.size:
        raise MissingReadingError(tuple(missing[0].tolist()))
    if np.ptp(table) <= 0:
        text = "all readings are the same"
        raise NothingVariesError(text)
    return table


def _by_range(table: Floats) -> GaugeStudy:
    parts, people, trials = table.shape
    if parts > 10 or people > 3 or trials > 3:
        text = (
            f"average and range takes 10 parts, 3 people, 3 trials, not {table.shape}"
        )
        raise RangeFactorsError(text)
    ev = float(np.ptp(table, axis=2).mean()) * TRIAL_FACTOR[trials]
    between = float(np.ptp(table.mean(axis=(0, 2)))) * RANGE_FACTOR[people]
    # The people's means still hold their share of the gauge's own spread.
    av = sqrt(max(between**2 - ev**2 / (parts * trials), 0.0))
    pv = float(np.ptp(table.mean(axis=(1, 2)))) * RANGE_FACTOR[parts]
    return _study(ev=ev, av=av, interaction=0.0, pv=pv)


def _by_variance(table: Floats) -> GaugeStudy:
    parts, people, trials = table.shape
    table = table - table.mean()
    part, person, cell = table.mean((1, 2)), table.mean((0, 2)), table.mean(2)
    crossed = cell - part[:, None] - person
    freedom = (parts - 1) * (people - 1), parts * people * (trials - 1)
    interaction_squares = trials * float((crossed**2).sum())
    error_squares = float(((table - cell[..., None]) ** 2).sum())
    mixed, error = interaction_squares / freedom[0], error_squares / freedom[1]
    if _may_be_chance(mixed, error, freedom):
        error = mixed = (interaction_squares + error_squares) / sum(freedom)
    by_person = parts * trials * float((person**2).sum()) / (people - 1)
    by_part = people * trials * float((part**2).sum()) / (parts - 1)
    return _study(
        ev=sqrt(error),
        av=_root((by_person - mixed) / (parts * trials)),
        interaction=_root((mixed - error) / trials),
        pv=_root((by_part - mixed) / (people * trials)),
    )


def _may_be_chance(mixed: float, error: float, freedom: tuple[int, int]) -> bool:
    if error <= 0:
        return mixed <= 0
    return float(scipy.special.fdtrc(*freedom, mixed / error)) > POOL_ABOVE


def _root(variance: float) -> float:
    # A component that comes out negative is one that cannot be seen.
    return sqrt(max(variance, 0.0))


def _study(*, ev: float, av: float, interaction: float, pv: float) -> GaugeStudy:
    grr = hypot(ev, av, interaction)
    tv = hypot(grr, pv)
    return GaugeStudy(
        ev=ev,
        av=av,
        grr=grr,
        pv=pv,
        tv=tv,
        grr_percent=100 * grr / tv,
        ndc=int(CATEGORIES * pv / grr) if grr > ROUNDING * tv else None,
        interaction=interaction,
    )


@dataclass(frozen=True, kw_only=True)
class MasterCheck:
    """
    A gauge against a master of known size.

    Attributes
    ----------
    bias : float
        Mean reading minus the master, in the gauge's unit.
    spread : float
        Largest minus smallest reading.
    passed : bool
        The bias is within the permissible error; a gauge that fails is barred
        until it passes.
    """

    bias: float
    spread: float
    passed: bool


def check_against_master(
    readings: ArrayLike, *, master: float, gauge: Gauge
) -> MasterCheck:
    """
    Check a gauge against a master.

    Parameters
    ----------
    readings : (k,) array_like of float
        One or more readings of the master.
    master : float
        Its true size, same unit.
    gauge : Gauge
        The gauge in the mode it was used.

    Returns
    -------
    MasterCheck

    Raises
    ------
    NotAStudyError
        If there is no reading, or they are not one row.
    MissingReadingError
        If a reading or the master is NaN or infinite.

    Examples
    --------
    >>> caliper = Gauge(0.01, 0.02, 0.01)
    >>> check_against_master([20.02, 20.02], master=20.0, gauge=caliper).passed
    True
    """
    row = _numbers(readings)
    if row.ndim != 1 or row.size == 0:
        text = f"readings of a master come as one row, not {row.shape}"
        raise NotAStudyError(text)
    missing = np.argwhere(~np.isfinite(row - master))
    if missing.size:
        raise MissingReadingError(tuple(missing[0].tolist()))
    bias = round(float(np.mean(row - master)), 6)
    return MasterCheck(
        bias=bias,
        spread=float(np.ptp(row)),
        passed=abs(bias) <= round(gauge.max_permissible_error, 6),
    )
