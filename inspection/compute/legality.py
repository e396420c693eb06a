"""
What advice holds a car against: its mandatory rules, at their limits themselves.

One car; no doubt is counted for or against it.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from inspection.compute.changes import TYRES
from inspection.compute.conformity import Outcome
from inspection.compute.derivations import Derivation
from inspection.compute.drafts import Draft
from inspection.compute.fields import Field
from inspection.compute.quantities import FrontCarrier, column_owner
from inspection.compute.recheck import inputs_of
from inspection.compute.rules import Rules, evaluate, margins
from inventory.compute.errors import ComputeError

Floats: TypeAlias = NDArray[np.float64]
Bools: TypeAlias = NDArray[np.bool_]


#: What may not touch the track, whatever the rulebook says.
OFF_THE_TRACK: Final = ("clearance_gear", "clearance_motor", "clearance_least")
#: The gear's place among them.
GEAR_ON_TRACK: Final = 0


class NotOneCarError(ComputeError):
    """Advice is about one car, and the field has another number of them."""

    code = "not_one_car"


class TyresNotMeasuredError(ComputeError):
    """The rear tyres' diameters are not known."""

    code = "tyres_not_measured"


@dataclass(frozen=True, kw_only=True)
class Tyres:
    """Diameters of a car's rear tyres, mm."""

    left_mm: float
    right_mm: float

    @property
    def mean_mm(self) -> float:
        """Mean of the two."""
        return (self.left_mm + self.right_mm) / 2.0


def rear_tyres(car: Field) -> Tyres:
    """
    Take the rear tyres of a car.

    Parameters
    ----------
    car : Field
        One row.

    Returns
    -------
    Tyres
        Their diameters.

    Raises
    ------
    NotOneCarError
        If the field is not of one car.
    TyresNotMeasuredError
        If a diameter is not known.
    """
    if car.cars != 1:
        msg = f"Advice is about one car; these are {car.cars}."
        raise NotOneCarError(msg)
    derivation = Derivation(car, traced=False)
    left, right = (float(derivation.column(name).value[0]) for name in TYRES)
    if np.isnan([left, right]).any():
        msg = "Measure the diameters of both rear tyres."
        raise TyresNotMeasuredError(msg)
    return Tyres(left_mm=left, right_mm=right)


def mandatory_margins(rulebook: Rules, field: Field) -> Floats:
    """
    Take the margins of one car's variants to its mandatory rules.

    Parameters
    ----------
    rulebook : Rules
        The rules, for one car.
    field : Field
        A row a variant.

    Returns
    -------
    (rows, rules) ndarray
        NaN where a rule is advisory, not applicable or not measured.
    """
    for_all = rulebook.take(np.zeros(field.cars, dtype=np.intp))
    return np.where(rulebook.mandatory, margins(for_all, field), np.nan)


@dataclass(frozen=True, kw_only=True, eq=False)
class Present:
    """
    A car as it is, ``(rules,)`` each.

    ``margin`` to the mandatory rules, NaN for others; ``about`` which rules are
    mandatory and apply; ``broken``, ``unread`` and ``kept`` say which of them it
    breaks, which have no value, and which are both admitted and at their limit or
    inside.
    """

    margin: Floats
    about: Bools
    broken: Bools
    unread: Bools
    kept: Bools


def present(rulebook: Rules, car: Field) -> Present:
    """
    Hold a car as it is against its mandatory rules.

    Parameters
    ----------
    rulebook : Rules
        The rules, for this car.
    car : Field
        One row.

    Returns
    -------
    Present
        Margins, and what is broken, not read, or kept.
    """
    margin, found = mandatory_margins(rulebook, car)[0], evaluate(rulebook, car)
    outcome = found.outcome[0]
    about = rulebook.mandatory & (outcome != Outcome.NOT_APPLICABLE.code)
    # A limit slip that does not go says no value, and yet the rule is broken.
    broken = about & ((margin < 0.0) | (outcome == Outcome.FAIL.code))
    unread = about & (outcome == Outcome.NOT_MEASURED.code)
    return Present(
        margin=margin,
        about=about,
        broken=broken,
        unread=unread,
        kept=about & found.admitted[0] & (margin >= 0.0),
    )


def rests_on(rulebook: Rules, car: Field, columns: Iterable[str]) -> Bools:
    """
    Tell which rules rest on any of some columns.

    Parameters
    ----------
    rulebook : Rules
        The rules.
    car : Field
        The field that their columns are places of.
    columns : iterable of str
        Of the registry.

    Returns
    -------
    (rules,) ndarray of bool
        Whatever carries the front.
    """
    wanted = frozenset(columns)
    keys = [column_owner(car.quantities[place])[0] for place in rulebook.column]
    return np.array(
        [
            any(wanted & inputs_of(key, carrier) for carrier in FrontCarrier)
            for key in keys
        ],
        dtype=np.bool_,
    )


@dataclass(frozen=True, kw_only=True)
class Run:
    """First and last of neighbours that are all good."""

    first: int
    last: int


def nearest_run(good: Bools, distance: Floats) -> Run:
    """
    Find the run of good places that comes nearest.

    Parameters
    ----------
    good : (n,) ndarray of bool
        At least one is.
    distance : (n,) ndarray
        How far each place is from the one that counts; NaN where that is not known.

    Returns
    -------
    Run
        Round the good place with the least distance.

    Examples
    --------
    >>> good = np.array([True, False, True, True, False])
    >>> nearest_run(good, np.array([4.0, 3.0, 2.0, 1.0, 0.0]))
    Run(first=2, last=3)
    """
    at = np.flatnonzero(good)
    nearest = int(at[np.argmin(distance[at])])
    gaps = np.flatnonzero(~good)
    return Run(
        first=int(max(gaps[gaps < nearest], default=-1)) + 1,
        last=int(min(gaps[gaps > nearest], default=len(good))) - 1,
    )


def off_the_track(rulebook: Rules, car: Field) -> tuple[Rules, Field]:
    """
    Add rules that nothing may touch the track.

    Parameters
    ----------
    rulebook : Rules
        The rules.
    car : Field
        The cars that they are for; one row.

    Returns
    -------
    tuple of Rules and Field
        The rules with those for gear, motor and underside at the end, and the car
        with the columns that they need.
    """
    draft = Draft(car, car.cars, OFF_THE_TRACK)
    wide = draft.field()
    more = len(OFF_THE_TRACK)
    places = [wide.quantities.index(key) for key in OFF_THE_TRACK]
    return (
        replace(
            rulebook,
            lower=np.append(rulebook.lower, np.zeros(more)),
            upper=np.append(rulebook.upper, np.full(more, np.nan)),
            column=np.append(rulebook.column, places),
            mandatory=np.append(rulebook.mandatory, np.ones(more, dtype=np.bool_)),
            taken_only=np.append(rulebook.taken_only, np.zeros(more, dtype=np.bool_)),
            applies=np.hstack(
                (rulebook.applies, np.ones((len(rulebook.applies), more), np.bool_))
            ),
        ),
        wide,
    )
