"""
A tyre's diameter and form, from readings round the tread at several sections.

mm in, mm out; sections run from the inner edge to the outer.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from inventory.compute.gauges import Gauge, Gauges
from inventory.compute.measuring import Estimate, Estimates, estimates_from_spread
from inventory.compute.repeats import (
    FloatArray,
    IntArray,
    WrongShapeError,
    as_readings,
    nan_for_none,
    summarise,
)


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
    out_of_round: FloatArray
    taper: FloatArray


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
        ``diameter`` the mean of the sections, its ``random`` from the spread
        within sections only; ``out_of_round`` largest minus smallest over the
        angles of one section, the worst section; ``taper`` outer minus inner
        section mean, signed.

    Raises
    ------
    NoReadingError, NotAReadingError, WrongShapeError
        If there is none, one is infinite, or they are not one tyre's.

    Examples
    --------
    >>> gauge = Gauge(resolution=0.01, max_permissible_error=0.02, repeatability=0.02)
    >>> form = tyre_form([[12.30, 12.34], [12.40, 12.42]], gauge)
    >>> round(form.out_of_round, 6), round(form.taper, 6)
    (0.04, 0.09)
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
    >>> tyre_forms([[[12.25, 12.5]], [[9.5, 9.75]]], gauge).out_of_round
    array([0.25, 0.25])
    """
    table = as_readings(readings, axes=2)
    sections = summarise(table)
    whole = summarise(sections.mean)
    # A cone must not pass for scatter: only the spread about each section's own
    # mean is pooled.
    freedom = np.maximum(sections.count - 1, 0).sum(axis=-1)
    in_section = np.nansum(1 / nan_for_none(sections.count), axis=-1)
    diameter = estimates_from_spread(
        whole.mean,
        spread=np.sqrt(sections.squares.sum(axis=-1) / np.maximum(freedom, 1)),
        share=np.sqrt(in_section) / nan_for_none(whole.count),
        count=sections.count.sum(axis=-1),
        gauge=gauge,
    )
    return TyreForms(
        diameter=diameter,
        out_of_round=_out_of_round(table, sections.count),
        taper=_taper(sections.mean),
    )


def _out_of_round(table: FloatArray, angles: IntArray) -> FloatArray:
    largest = np.fmax.reduce(table, axis=-1, initial=-np.inf)
    smallest = np.fmin.reduce(table, axis=-1, initial=np.inf)
    over_angles = np.where(angles > 1, largest - smallest, np.nan)
    worst: FloatArray = np.fmax.reduce(over_angles, axis=-1, initial=np.nan)
    return worst


def _taper(section_mean: FloatArray) -> FloatArray:
    if section_mean.shape[-1] < 2:
        return np.full(section_mean.shape[:-1], np.nan)
    taper: FloatArray = section_mean[..., -1] - section_mean[..., 0]
    return taper
