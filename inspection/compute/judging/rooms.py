"""
How far each value may still go: its room to the limit that advice aims at.

Under guarded acceptance that is the acceptance limit, inside the tolerance limit by
the guard band (JCGM 106:2012, 8.3.2); else it is the tolerance limit itself.  Every
place and every limit by itself, so that between two near sizes of a part each room
is as good as a straight line.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from inspection.compute.judging.candidates import Candidate, Candidates
from inspection.compute.judging.conformity import judge
from inspection.compute.judging.other_feet import on_other_feet
from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.judging.rule_arrays import Rules
from inspection.compute.judging.two_slips import guard_between, try_limit_slips
from inspection.compute.quantities import column_owner
from inspection.compute.stance import AT_LEAST, AT_MOST, BETWEEN, Field, is_value
from inventory.compute.arrays import Floats, Ints

# A millionth of the unit, the step in which values and limits are compared.
_STEP = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class Room:
    """
    Rooms of some cars, a column a place and limit.

    ``rule`` is ``(columns,)``, in rising order: whose limit it is.  ``room`` is
    ``(cars, columns)`` in the value's unit, negative where the car is to change; NaN
    where nothing is known, infinite where the rule or the place does not apply.
    """

    rule: Ints
    room: Floats

    def of_rules(self, count: int) -> Floats:
        """
        Take the least room of each rule.

        Parameters
        ----------
        count : int
            Of rules.

        Returns
        -------
        (cars, rules) ndarray
            NaN where the rule does not apply or was not measured.
        """
        least = np.full((len(self.room), count), np.inf)
        for column, rule in enumerate(self.rule):
            # Unlike fmin, a minimum keeps the NaN of a place that was not measured.
            least[:, rule] = np.minimum(least[:, rule], self.room[:, column])
        return np.where(np.isinf(least), np.nan, least)


def room(rules: Rules, field: Field) -> Room:
    """
    Say how much room every value of some cars has.

    Parameters
    ----------
    rules : Rules
        The rules, for these cars.
    field : Field
        The cars.

    Returns
    -------
    Room
        A row a car.

    Examples
    --------
    >>> cars = Field.exact({"weight_car": [181.0, 186.0]})
    >>> from_180_to_185 = Rules.within(
    ...     {"weight_car": (180.0, 185.0)}, columns=cars.columns, car_count=2
    ... )
    >>> room(from_180_to_185, cars).room
    array([[ 1.,  4.],
           [ 6., -1.]])
    """
    if field.car_count == 1:
        # One car alone would raise where several give NaN.
        both = np.zeros(2, dtype=np.intp)
        twice = room(rules.take(both), field.take(both))
        return Room(rule=twice.rule, room=twice.room[:1])
    keys = [column_owner(field.columns[column])[0] for column in rules.column]
    guarded = rules.decision_rule is DecisionRule.GUARDED_ACCEPTANCE
    candidates = Candidates(field, keys, traced=guarded)
    # As a pass is held on the other three feet too.
    others = on_other_feet(field, keys) if guarded else {}
    which: list[int] = []
    sides: list[Floats] = []
    for rule, key in enumerate(keys):
        about = rules.applies[:, rule] & ~candidates.impossible(key)
        taken_only = bool(rules.taken_only[rule])
        every = candidates.to_judge(key, taken_only=taken_only)
        for one in (*every, *(() if taken_only else others.get(key, ()))):
            for side in _sides(rules, rule, one):
                which.append(rule)
                sides.append(np.where(about & one.present, side, np.inf))
    return Room(
        rule=np.array(which, dtype=np.int64),
        room=np.array(sides, dtype=np.float64).reshape(len(sides), field.car_count).T,
    )


def _sides(rules: Rules, rule: int, one: Candidate) -> Iterator[Floats]:
    lower, upper = float(rules.lower[rule]), float(rules.upper[rule])
    one = try_limit_slips(one, lower, upper)
    guard = np.zeros(len(one.value))
    if rules.decision_rule is DecisionRule.GUARDED_ACCEPTANCE:
        guard = _guard_band(rules, one, lower, upper)
    if not np.isnan(lower):
        yield _room(one, np.round(one.value - lower, 6), guard, goes=AT_LEAST)
    if not np.isnan(upper):
        yield _room(one, np.round(upper - one.value, 6), guard, goes=AT_MOST)


def _guard_band(rules: Rules, one: Candidate, lower: float, upper: float) -> Floats:
    judged = judge(
        one.value,
        one.u,
        lower=lower,
        upper=upper,
        rule=rules.decision_rule,
        confidence=rules.confidence,
    )
    guard = np.rint(judged.guard_band / _STEP) * _STEP
    # Between two near limits the doubt on both sides together may be too much, where
    # that on one of them is not.
    both = ~judged.admitted & (judged.margin >= guard)
    guard = np.where(both, judged.margin + _STEP, guard)
    between = guard_between(one, rules.confidence)
    return np.where(one.bound == BETWEEN, np.rint(between / _STEP) * _STEP, guard)


def _room(one: Candidate, margin: Floats, guard: Floats, *, goes: int) -> Floats:
    """Take the guard band off a value's margin; a slip is a go gauge and has none."""
    outside = np.minimum(margin, -_STEP)
    slip = np.select(
        [(one.bound == goes) & (margin >= 0), (one.bound == -goes) & (margin <= 0)],
        [margin, outside],
        np.nan,
    )
    return np.where(is_value(one.bound), np.round(margin - guard, 6), slip)
