"""
Wear: how far the rear tyres may go down before the first rule breaks.

Millimetres off the diameter of both rear tyres alike.  A rule breaks
where it would no longer admit the car: under guarded acceptance short of the limit
by the guard band, else at the limit itself.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from inspection.compute.judging import Rules
from inspection.compute.stance import Field
from inspection.compute.what_if.changed_cars import with_tyres
from inspection.compute.what_if.legality import present, rear_tyres, room_left
from inventory.compute.arrays import Floats, Ints
from inventory.compute.errors import ComputeError

_STEPS_A_MM: Final = 1000
#: A coarse step is 0.05 mm.
_FINE_STEPS: Final = 50
#: The scan goes no further: it is more rubber than a tyre has.
MOST_WEAR_MM: Final = 3.0


class NotAWearError(ComputeError):
    """The wear of a night is not positive."""

    code = "not_a_wear"


@dataclass(frozen=True, kw_only=True)
class WearLimit:
    """
    How far the rear tyres may wear.

    Attributes
    ----------
    wear : float
        Mm off both diameters that every rule still allows; 0 if one is broken
        already, infinite if none breaks within 3 mm.
    tyre_diameter : float
        Mean diameter of the two tyres then, mm: legal down to this; NaN if none
        breaks.
    rule : int or None
        Place of the rule that breaks first.
    nights : float
        Nights that this is, at the wear of one; NaN where that is not known.
    not_judged : tuple of int
        Mandatory rules whose value is not known, on which this says nothing.
    """

    wear: float
    tyre_diameter: float
    rule: int | None
    nights: float
    not_judged: tuple[int, ...]


def wear_limit(
    rulebook: Rules, car: Field, *, wear_per_night_mm: float | None = None
) -> WearLimit:
    """
    Find the wear at which a mandatory rule first breaks.

    Scanned in steps of 0.05 mm, since a rule with a maximum may become kept again,
    and narrowed to 0.001 mm.

    Parameters
    ----------
    rulebook : Rules
        The rules, for this car.
    car : Field
        One row.
    wear_per_night_mm : float, optional
        What this car's tyres lose in a night, mm on the diameter.

    Returns
    -------
    WearLimit
        Wear, diameter, rule and nights.

    Raises
    ------
    NotOneCarError
        If the field is not of one car.
    TyresNotMeasuredError
        If a rear tyre's diameter is not known.
    NotAWearError
        If the wear of a night is not positive.

    Examples
    --------
    >>> car = Field.exact(
    ...     {"tyre_diameter_rear_left": [20.0], "tyre_diameter_rear_right": [20.0]}
    ... )
    >>> rules = Rules.within(
    ...     {"tyre_diameter_rear_left": (19.5, 21.0)}, columns=car.columns
    ... )
    >>> limit = wear_limit(rules, car, wear_per_night_mm=0.05)
    >>> round(limit.wear, 3), round(limit.tyre_diameter, 3), round(limit.nights, 1)
    (0.5, 19.5, 10.0)
    """
    if wear_per_night_mm is not None and not 0.0 < wear_per_night_mm < math.inf:
        msg = f"{wear_per_night_mm:g} mm a night: a positive wear was expected."
        raise NotAWearError(msg)
    tyres = rear_tyres(car)
    now = present(rulebook, car)

    def worn(count: Ints) -> Floats:
        wear_mm = count / _STEPS_A_MM
        return room_left(
            rulebook,
            with_tyres(car, tyres.left_mm - wear_mm, tyres.right_mm - wear_mm),
        )

    steps = round(MOST_WEAR_MM * _STEPS_A_MM / _FINE_STEPS)
    coarse = worn(_FINE_STEPS * np.arange(1, steps + 1))
    unread = now.unread | (np.isnan(coarse).all(axis=0) & ~np.isnan(now.room))
    wear, rule = _first_break(worn, coarse)
    if now.broken.any():
        wear, rule = 0.0, _least(np.where(now.broken, now.room, np.nan))
    return WearLimit(
        wear=wear,
        tyre_diameter=tyres.mean_mm - wear if math.isfinite(wear) else math.nan,
        rule=rule,
        nights=math.nan if wear_per_night_mm is None else wear / wear_per_night_mm,
        not_judged=tuple(np.flatnonzero(unread).tolist()),
    )


def _first_break(
    worn: Callable[[Ints], Floats], coarse: Floats
) -> tuple[float, int | None]:
    broken = np.flatnonzero((coarse < 0.0).any(axis=1))
    if len(broken) == 0:
        return math.inf, None
    before = int(broken[0]) * _FINE_STEPS
    fine = worn(before + np.arange(1, _FINE_STEPS + 1))
    first = int(np.flatnonzero((fine < 0.0).any(axis=1))[0])
    return (before + first) / _STEPS_A_MM, _least(fine[first])


def _least(margin: Floats) -> int:
    return int(np.nanargmin(margin))
