"""
The largest gear and the smallest tyre that a car takes, and which part suits it best.

One car; millimetres.  Under guarded acceptance inside by the guard band, else at the
limit itself.
"""

import math
from dataclasses import dataclass

import numpy as np

from inspection.compute.fit.checks import Check, CheckState, CheckTable
from inspection.compute.fit.drive import BAR_GAP_MM
from inspection.compute.fit.envelopes import Envelope
from inspection.compute.fit.gears import GearFit
from inspection.compute.fit.ground import gear_ground, missing_for_gear
from inspection.compute.fit.tyres_and_motors import MotorFit, TyreFit
from inspection.compute.what_if import NotOneCarError, legal_tyre_sizes, off_the_track
from inventory.compute.arrays import Codes, Floats, Ints
from inventory.compute.errors import ComputeError
from inventory.compute.gears import LEAST_TEETH


class NotMeasuredError(ComputeError):
    """A size of the car is missing; the text names what to measure."""

    code = "not_measured"


@dataclass(frozen=True, kw_only=True)
class LargestGear:
    """
    The largest gear that a car takes.

    ``governs`` is the check that keeps it from being larger; ``teeth`` the most that
    such a gear can have at the pinion's pitch, None where that is not known.
    """

    outside_diameter_mm: float
    governs: Check
    teeth: int | None


@dataclass(frozen=True, kw_only=True)
class SmallestTyre:
    """
    The smallest rear tyre that a car takes.

    ``governs`` is `Check.RULE` with the place of the ``rule``, `Check.GROUND` where
    the car would touch the track first, None where any plausible tyre will do;
    ``diameter_mm`` is NaN where none will.
    """

    diameter_mm: float
    governs: Check | None
    rule: int | None


def largest_gear(envelope: Envelope) -> LargestGear:
    """
    Find the largest gear that a car takes.

    Parameters
    ----------
    envelope : Envelope
        One car.

    Returns
    -------
    LargestGear
        True outside diameter, mm, and which check governs.

    Raises
    ------
    NotOneCarError
        If there is more than one car.
    NotMeasuredError
        If the ground or the bar is not known, with what to measure.

    Examples
    --------
    >>> from inspection.compute.fit.envelopes import Mounting
    >>> from inspection.compute.judging import Rules
    >>> from inspection.compute.stance import Field
    >>> car = Field.exact(
    ...     {"layout": [1.0], "clearance_gear": [1.0], "gear_diameter": [16.0]}
    ... )
    >>> envelope = Envelope(
    ...     car=car,
    ...     rulebook=Rules.within({"clearance_gear": (0.8, 9.0)}, columns=car.columns),
    ...     mounting=Mounting(axle_to_bar_mm=np.array([np.inf])),
    ... )
    >>> largest = largest_gear(envelope)
    >>> largest.outside_diameter_mm, largest.governs.name
    (16.4, 'GROUND')
    """
    if envelope.car.car_count != 1:
        msg = f"The largest gear is one car's; these are {envelope.car.car_count}."
        raise NotOneCarError(msg)
    least = np.fmax(envelope.aims("clearance_gear").lower, 0.0)
    limits = {
        Check.GROUND: gear_ground(envelope.car).diameter_mm(least),
        Check.CHASSIS_BAR: 2.0 * (envelope.mounting.axle_to_bar_mm - BAR_GAP_MM),
    }
    _refuse_unknown(envelope, {check: float(d[0]) for check, d in limits.items()})
    limits[Check.DIAMETER] = envelope.aims("gear_diameter").upper
    diameters = {check: float(np.broadcast_to(d, 1)[0]) for check, d in limits.items()}
    governs = min(diameters, key=lambda one: _or_infinite(diameters[one]))
    largest = diameters[governs]
    module = float(envelope.pinion.module_mm[0])
    beyond = _beyond_pitch_circle_mm(envelope, module)
    known = not math.isnan(module + beyond)
    teeth = math.floor(round((largest - beyond) / module, 6)) if known else 0
    return LargestGear(
        outside_diameter_mm=largest,
        governs=governs,
        teeth=int(teeth) if teeth >= LEAST_TEETH else None,
    )


def smallest_tyre(envelope: Envelope) -> SmallestTyre:
    """
    Find the smallest rear tyres, both alike, that a car takes as it is.

    Parameters
    ----------
    envelope : Envelope
        One car.

    Returns
    -------
    SmallestTyre
        Diameter, mm, and which check governs.

    Raises
    ------
    NotOneCarError
        If there is more than one car.
    TyresNotMeasuredError
        If a rear tyre's diameter is not known.

    Examples
    --------
    >>> from inspection.compute.judging import Rules
    >>> from inspection.compute.stance import Field
    >>> car = Field.exact(
    ...     {
    ...         "layout": [1.0],
    ...         "tyre_diameter_rear_left": [20.0],
    ...         "tyre_diameter_rear_right": [20.0],
    ...     }
    ... )
    >>> rules = Rules.within(
    ...     {"tyre_diameter_rear_left": (19.5, np.nan)}, columns=car.columns
    ... )
    >>> smallest = smallest_tyre(Envelope(car=car, rulebook=rules))
    >>> smallest.diameter_mm, smallest.governs.name
    (19.5, 'RULE')
    """
    rulebook, car = off_the_track(envelope.rulebook, envelope.car)
    sizes = legal_tyre_sizes(rulebook, car)
    if sizes.lowest_rule is None:
        return SmallestTyre(diameter_mm=sizes.lowest_mm, governs=None, rule=None)
    if sizes.lowest_rule >= envelope.rulebook.count:
        return SmallestTyre(
            diameter_mm=sizes.lowest_mm, governs=Check.GROUND, rule=None
        )
    return SmallestTyre(
        diameter_mm=sizes.lowest_mm, governs=Check.RULE, rule=sizes.lowest_rule
    )


def _beyond_pitch_circle_mm(envelope: Envelope, module: float) -> float:
    """Say how much larger a gear is than its module times its teeth."""
    if not bool(envelope.in_line[0]):
        # A spur is m (z + 2) across: ISO 53 has an addendum of one module.
        return 2.0 * module
    # How far a crown's teeth reach out is its maker's own: as on the car's own one.
    crown = envelope.gear
    return float(crown.outside_diameter_mm[0] - module * crown.teeth[0])


def _or_infinite(diameter_mm: float) -> float:
    return math.inf if math.isnan(diameter_mm) else diameter_mm


def _refuse_unknown(envelope: Envelope, diameters_mm: dict[Check, float]) -> None:
    missing: list[str] = []
    if math.isnan(diameters_mm[Check.GROUND]):
        missing += missing_for_gear(envelope.car)
    if math.isnan(diameters_mm[Check.CHASSIS_BAR]):
        missing.append("axle_to_bar_mm")
    if missing:
        msg = f"Not measured: {', '.join(missing)}."
        raise NotMeasuredError(msg)


#: How a row stands: it fits; something is not known; a check fails.
FITS, NOT_KNOWN, DOES_NOT_FIT = 0, 1, 2


def standings(table: CheckTable) -> Codes:
    """
    Tell how each row stands: one check that fails is enough.

    Parameters
    ----------
    table : CheckTable
        The checks of a fit.

    Returns
    -------
    (rows,) ndarray of int8
        FITS, NOT_KNOWN or DOES_NOT_FIT.

    Examples
    --------
    >>> from inspection.compute.fit.checks import CheckColumn
    >>> can_in_bay = CheckColumn(
    ...     check=Check.CAN_HEIGHT,
    ...     value=np.array([16.6, 18.4, np.nan]),
    ...     lower=np.array([np.nan]),
    ...     upper=np.array([18.0]),
    ...     applies=np.array([True]),
    ...     checked=np.array([True]),
    ... )
    >>> stands = standings(CheckTable(columns=(can_in_bay,), row_count=3))
    >>> stands.tolist() == [FITS, DOES_NOT_FIT, NOT_KNOWN]
    True
    """
    fails = np.zeros(table.row_count, dtype=np.bool_)
    for column in table.columns:
        fails |= column.state == CheckState.FAILS.code
    standing = np.where(table.fits, FITS, np.where(fails, DOES_NOT_FIT, NOT_KNOWN))
    return standing.astype(np.int8)


def best_first(
    fit: GearFit | TyreFit | MotorFit, *, first_by: Floats | None = None
) -> Ints:
    """
    Order rows by how well they suit: what fits, then what may, then the rest.

    Among rows that stand alike the least change of rollout comes first, and one that
    is not known last; equal ones keep their order.

    Parameters
    ----------
    fit : GearFit, TyreFit or MotorFit
        The rows with their checks.
    first_by : (rows,) ndarray, optional
        What counts before all that, the least first: teeth away from those wanted.

    Returns
    -------
    (rows,) ndarray of int64
        Rows, the best first.

    Examples
    --------
    >>> from inspection.compute.fit.gears import gear_fit
    >>> from inspection.compute.judging import Rules
    >>> from inspection.compute.stance import Field
    >>> from inspection.compute.what_if import Gears
    >>> car = Field.exact(
    ...     {
    ...         "layout": [1.0],
    ...         "tyre_diameter_rear_left": [20.0],
    ...         "tyre_diameter_rear_right": [20.0],
    ...         "teeth_pinion": [9.0],
    ...         "teeth_gear": [27.0],
    ...     }
    ... )
    >>> envelope = Envelope(car=car, rulebook=Rules.within({}, columns=car.columns))
    >>> best_first(gear_fit(Gears(teeth=np.array([36.0, 26.0, 30.0])), envelope))
    array([1, 2, 0])
    """
    standing = standings(fit.table)
    change = np.zeros(len(standing))
    if not isinstance(fit, MotorFit):
        change = np.abs(fit.rollout_change_percent)
    change = np.where(np.isnan(change), np.inf, change)
    first = np.zeros(len(standing)) if first_by is None else first_by
    return np.lexsort((change, standing, first))
