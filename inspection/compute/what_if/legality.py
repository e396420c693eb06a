"""
What advice holds a car against: its mandatory rules, at the limits it aims at.

One car.  Under guarded acceptance advice aims at the acceptance limit, inside by the
guard band, else at the tolerance limit itself.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from inspection.compute.judging import (
    Findings,
    Outcome,
    Room,
    Rules,
    evaluate,
    margins,
    room,
)
from inspection.compute.quantities import FrontCarrier, column_owner
from inspection.compute.stance import Derivation, Field, inputs_of
from inspection.compute.what_if.car_copies import Draft
from inspection.compute.what_if.changed_cars import TYRES
from inventory.compute.arrays import Bools, Floats
from inventory.compute.errors import ComputeError

_ROWS_AT_ONCE: Final = 2048
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

    Examples
    --------
    >>> car = Field.exact(
    ...     {"tyre_diameter_rear_left": [20.0], "tyre_diameter_rear_right": [20.0]}
    ... )
    >>> rear_tyres(car).mean_mm
    20.0
    """
    if car.car_count != 1:
        msg = f"Advice is about one car; these are {car.car_count}."
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

    Examples
    --------
    >>> cars = Field.exact({"weight_car": [181.0, 179.0]})
    >>> rules = Rules.within({"weight_car": (180.0, np.nan)}, columns=cars.columns)
    >>> mandatory_margins(rules, cars).ravel()
    array([ 1., -1.])
    """
    for_all = rulebook.take(np.zeros(field.car_count, dtype=np.intp))
    return np.where(rulebook.mandatory, margins(for_all, field), np.nan)


def room_left(rulebook: Rules, field: Field) -> Floats:
    """
    Take the room of one car's variants to what advice on its rules aims at.

    Parameters
    ----------
    rulebook : Rules
        The rules, for one car.
    field : Field
        A row a variant.

    Returns
    -------
    (rows, rules) ndarray
        Negative where a rule would not admit it; NaN where a rule is advisory, not
        applicable or not measured.

    Examples
    --------
    >>> cars = Field.exact({"weight_car": [181.0, 179.0]})
    >>> rules = Rules.within({"weight_car": (180.0, np.nan)}, columns=cars.columns)
    >>> room_left(rules, cars).ravel()
    array([ 1., -1.])
    """
    left = rooms_left(rulebook, field).of_rules(rulebook.count)
    return np.where(rulebook.mandatory, left, np.nan)


def rooms_left(rulebook: Rules, field: Field) -> Room:
    """
    Take the room of one car's variants at every place and limit by itself.

    Parameters
    ----------
    rulebook : Rules
        The rules, for one car; advisory ones too.
    field : Field
        A row a variant.

    Returns
    -------
    Room
        A row a variant.
    """
    parts = [
        room(rulebook.take(np.zeros(some.car_count, dtype=np.intp)), some)
        for some in _handfuls(field)
    ]
    return Room(rule=parts[0].rule, room=np.concatenate([part.room for part in parts]))


def _handfuls(field: Field) -> Iterator[Field]:
    for start in range(0, max(field.car_count, 1), _ROWS_AT_ONCE):
        yield field.take(slice(start, start + _ROWS_AT_ONCE))


@dataclass(frozen=True, kw_only=True, eq=False)
class Present:
    """
    A car as it is, ``(rules,)`` each.

    ``room`` to what the mandatory rules admit, NaN for others; ``about`` which rules
    are mandatory and apply; ``broken``, ``unread`` and ``kept`` say which of them it
    breaks, which have no value, and which are both admitted and at their limit or
    inside.
    """

    room: Floats
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
        Rooms, and what is broken, not read, or kept.

    Examples
    --------
    >>> car = Field.exact({"weight_car": [179.0], "teeth_gear": [np.nan]})
    >>> rules = Rules.within(
    ...     {"weight_car": (180.0, np.nan), "teeth_gear": (26.0, 30.0)},
    ...     columns=car.columns,
    ... )
    >>> now = present(rules, car)
    >>> now.broken.tolist(), now.unread.tolist()
    ([True, False], [False, True])
    """
    left, findings = room_left(rulebook, car)[0], evaluate(rulebook, car)
    outcome = findings.outcome[0]
    asked = _about(rulebook, findings)[0]
    # A limit slip that does not go says no value, and yet the rule is broken.
    broken = asked & ((left < 0.0) | (outcome == Outcome.FAIL.code))
    unread = asked & (outcome == Outcome.NOT_MEASURED.code)
    return Present(
        room=left,
        about=asked,
        broken=broken,
        unread=unread,
        kept=asked & findings.admitted[0] & (left >= 0.0),
    )


def about(rulebook: Rules, cars: Field) -> Bools:
    """
    Tell which mandatory rules are about cars as they are.

    Parameters
    ----------
    rulebook : Rules
        The rules, for these cars.
    cars : Field
        The cars.

    Returns
    -------
    (cars, rules) ndarray of bool
        Twist on a car that its guide carries is no rule's business.

    Examples
    --------
    >>> car = Field.exact({"weight_car": [179.0]})
    >>> rules = Rules.within({"weight_car": (180.0, np.nan)}, columns=car.columns)
    >>> about(rules, car)
    array([[ True]])
    """
    return _about(rulebook, evaluate(rulebook, cars))


def _about(rulebook: Rules, findings: Findings) -> Bools:
    asked: Bools = findings.outcome != Outcome.NOT_APPLICABLE.code
    return rulebook.mandatory & asked


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

    Examples
    --------
    >>> car = Field.exact({"gear_ratio": [3.0], "weight_car": [181.0]})
    >>> rules = Rules.within(
    ...     {"gear_ratio": (2.5, 4.0), "weight_car": (180.0, np.nan)},
    ...     columns=car.columns,
    ... )
    >>> rests_on(rules, car, ["teeth_gear"])
    array([ True, False])
    """
    wanted = frozenset(columns)
    keys = [column_owner(car.columns[place])[0] for place in rulebook.column]
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

    Examples
    --------
    >>> car = Field.exact({"weight_car": [181.0]})
    >>> rules = Rules.within({"weight_car": (180.0, np.nan)}, columns=car.columns)
    >>> wider_rules, wider_car = off_the_track(rules, car)
    >>> [wider_car.columns[place] for place in wider_rules.column[1:]]
    ['clearance_gear', 'clearance_motor', 'clearance_least']
    """
    draft = Draft(car, car.car_count, OFF_THE_TRACK)
    wide = draft.field()
    more = len(OFF_THE_TRACK)
    places = [wide.columns.index(key) for key in OFF_THE_TRACK]
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
