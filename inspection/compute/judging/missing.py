"""What to measure so that a rule can be judged on one car."""

from dataclasses import replace

import numpy as np

from inspection.compute.judging.outcomes import Outcome
from inspection.compute.judging.rule_arrays import Findings, Rules
from inspection.compute.quantities import (
    COLUMNS,
    OUTLINE_CORNERS,
    QUANTITIES,
    FrontCarrier,
    column_owner,
)
from inspection.compute.stance import (
    AXLE_HEIGHT_NEEDS,
    AXLE_HEIGHTS,
    Field,
    Noting,
    is_value,
)

_CARRIED = "front_carrier"


def missing_inputs(
    rulebook: Rules, field: Field, findings: Findings, *, car: int = 0
) -> tuple[tuple[str, ...], ...]:
    """
    Name the columns whose lack keeps each rule from being judged.

    Parameters
    ----------
    rulebook : Rules
        The rules, for these cars.
    field : Field
        The cars.
    findings : Findings
        What the rules found.
    car : int
        Which car.

    Returns
    -------
    tuple of tuple of str
        For each rule, in the registry's order: nothing where it was judged; the
        quantity itself where its readings are there and yet give no value.

    Examples
    --------
    >>> from inspection.compute.judging.evaluation import evaluate
    >>> car = Field.exact({"gear_ratio": [np.nan], "teeth_gear": [27.0]})
    >>> rules = Rules.within({"gear_ratio": (2.5, 4.0)}, columns=car.columns)
    >>> missing_inputs(rules, car, evaluate(rules, car))
    (('teeth_pinion',),)
    """
    # One car alone would raise where it cannot stand.
    searches = _searches(field.take(np.array([car, car])))
    return tuple(
        _for_rule(searches, field.columns[column], taken_only=bool(only))
        if code == Outcome.NOT_MEASURED.code
        else ()
        for column, only, code in zip(
            rulebook.column, rulebook.taken_only, findings.outcome[car], strict=True
        )
    )


def _searches(car: Field) -> tuple["_Search", ...]:
    """One for what carries the car's front; for each there is, where it is not said."""
    place = car.position(_CARRIED)
    if place is not None and not np.isnan(car.value[0, place]):
        return (_Search(car),)
    return tuple(
        _Search(_carried(car, code), is_said=False) for code in range(len(FrontCarrier))
    )


def _carried(car: Field, code: int) -> Field:
    place = car.position(_CARRIED)
    if place is not None:
        value = car.value.copy()
        value[:, place] = code
        return replace(car, value=value)
    more = np.zeros((car.car_count, 1))
    return Field(
        columns=(*car.columns, _CARRIED),
        value=np.hstack((car.value, more + code)),
        random=np.hstack((car.random, more)),
        systematic=np.hstack((car.systematic, more)),
        gauge=np.hstack((car.gauge, np.full_like(more, -1, dtype=np.int64))),
        bound=(
            None
            if car.bound is None
            else np.hstack((car.bound, more.astype(car.bound.dtype)))
        ),
    )


def _for_rule(
    searches: tuple["_Search", ...], column: str, *, taken_only: bool
) -> tuple[str, ...]:
    row = QUANTITIES[column_owner(column)[0]]
    first = searches[0]
    if not row.has_formula:
        names = {name for own in row.columns for name in first.lacking(own)}
    elif taken_only or first.is_bound(row.key):
        names = {row.key}
    else:
        every = [one.below(row.key) for one in searches]
        names = set.intersection(*every) or {row.key}
    return tuple(name for name in COLUMNS if name in names)


class _Search:
    """The readings that one car lacks, what carries its front said or supposed."""

    def __init__(self, car: Field, *, is_said: bool = True) -> None:
        self._noting = Noting(car)
        self._is_said = is_said

    def is_bound(self, column: str) -> bool:
        return not bool(is_value(self._noting.reading(column).bound)[0])

    def is_read(self, column: str) -> bool:
        return not np.isnan(self._noting.reading(column).value[0])

    def is_known(self, column: str) -> bool:
        return not np.isnan(self._noting.known(column)[0])

    def below(self, key: str) -> set[str]:
        """Columns to measure for a quantity to be derived."""
        self._noting.note(key)
        asked = tuple(self._noting.asked[key])
        needed = [one for one in asked if not self._is_spared(one)]
        names = {name for one in needed for name in self.lacking(one)}
        if _CARRIED in asked and not self._is_said:
            names.add(_CARRIED)
        return names

    def _is_spared(self, column: str) -> bool:
        row = QUANTITIES[column_owner(column)[0]]
        # A corner that is begun is to be finished, though a car can do without any;
        # the first of the rectangle is worked out.
        is_corner = column.startswith("outline_")
        needed = is_corner and (row.has_formula or bool(self._corners_begun))
        return row.optional and not needed

    def lacking(self, column: str) -> set[str]:
        row = QUANTITIES[column_owner(column)[0]]
        if column.startswith("outline_") and self._corners_begun:
            return self._unfinished_corners()
        if self.is_known(column):
            return set()
        if column in AXLE_HEIGHTS and self.is_read(column):
            return {
                name
                for name, word in AXLE_HEIGHT_NEEDS.items()
                if self._noting.reading(word).value[0] > 0 and not self.is_known(name)
            }
        if not row.has_formula:
            return {column}
        return self.below(row.key) or {column}

    @property
    def _corners_begun(self) -> list[int]:
        every = range(1, OUTLINE_CORNERS + 1)
        return [k for k in every if self.is_read(f"outline_{k}_x")]

    def _unfinished_corners(self) -> set[str]:
        rest = {f"outline_{k}_{axis}" for k in self._corners_begun for axis in "yz"}
        return {name for name in rest if not self.is_read(name)}
