"""
Remedies that need no part: ballast, a swap, the lathe, the body, spacers, shims.

Each is tried in steps on one car, and given with the least amount that cures most
of what is broken and breaks nothing else.  Under guarded acceptance that leaves the
car inside by the guard band, else at the limit itself.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial
from typing import Final

import numpy as np

from inspection.compute.judging import Rules
from inspection.compute.quantities import FrontCarrier, Side, column_owner
from inspection.compute.stance import Derivation, Field, Standing
from inspection.compute.what_if import (
    TYRES,
    Present,
    present,
    rear_tyres,
    room_left,
    with_columns,
    with_tyres,
)
from inventory.compute.arrays import Floats

_GUIDE: Final = tuple(FrontCarrier).index(FrontCarrier.GUIDE)
#: Steps and the most of each, in the unit of the amount.
_BALLAST_G: Final = (0.1, 60.0)
_TRUE_MM: Final = (0.01, 3.0)
_BODY_MM: Final = (0.1, 6.0)
_SPACER_MM: Final = (0.05, 3.0)
_SHIM_MM: Final = (0.01, 1.5)
_WHEELS: Final = tuple((end, side) for end in ("front", "rear") for side in Side)
#: Looked at: whether paper is held under each front tyre.
_TOUCH: Final = "front_wheels_touch"
#: Half of a sheet of paper, so that it is held for certain; common practice.
_PAPER_MM: Final = 0.05


class Work(StrEnum):
    """What may be done to a car without a part from the stock."""

    BALLAST = "ballast"
    LIGHTEN = "take weight off"
    SWAP_REAR = "swap the rear tyres"
    SWAP_FRONT = "swap the front tyres"
    TRUE_DOWN = "true down"
    RAISE_BODY = "raise the body"
    ADD_GUIDE_SPACERS = "add guide spacers"
    TAKE_GUIDE_SPACERS = "take guide spacers out"
    TRUE_ONE = "true one tyre"
    SHIM_AXLE = "shim one end of an axle"
    BEND = "bend the chassis"
    STOP_ROCKING = "bring all four wheels down"


@dataclass(frozen=True, kw_only=True)
class WorkRemedy:
    """
    Work that cures broken rules.

    ``amount`` is in ``unit``, 0 for a swap; of truing it is the diameter to true
    to.  ``column`` is what of the car is worked on where that is one wheel, a front
    wheel that goes down against the other where the chassis is bent; ``is_raised``
    whether an end of an axle goes up.  ``cures`` are places of rules; ``makes_legal``
    says whether nothing stays broken.
    """

    work: Work
    amount: float
    unit: str
    cures: tuple[int, ...]
    makes_legal: bool
    column: str = ""
    is_raised: bool = False


@dataclass(frozen=True, kw_only=True, eq=False)
class _Trial:
    """A work, its amounts in rising order, and the car after each."""

    work: Work
    amount: Floats
    unit: str
    after: Callable[[], Field]
    column: str = ""
    is_raised: bool = False


def work_remedies(rulebook: Rules, car: Field) -> tuple[WorkRemedy, ...]:
    """
    Find what could be done to a car without any part.

    Parameters
    ----------
    rulebook : Rules
        The rules, for this car.
    car : Field
        One row.

    Returns
    -------
    tuple of WorkRemedy
        What makes the car legal first; none for a car that breaks no rule.

    Raises
    ------
    NotOneCarError
        If the field is not of one car.
    TyresNotMeasuredError
        If a rear tyre's diameter is not known.

    Examples
    --------
    >>> car = Field.exact(
    ...     {
    ...         "tyre_diameter_rear_left": [20.0],
    ...         "tyre_diameter_rear_right": [20.0],
    ...         "weight_car": [179.0],
    ...     }
    ... )
    >>> rules = Rules.within({"weight_car": (180.0, np.nan)}, columns=car.columns)
    >>> [(one.work.value, one.amount) for one in work_remedies(rules, car)]
    [('ballast', 1.0)]
    """
    rear_tyres(car)
    now = present(rulebook, car)
    if not now.broken.any():
        return ()
    tried = (_try(trial, rulebook, now) for trial in _trials(car))
    works = [remedy for remedy in tried if remedy is not None]
    works += _against_rocking(rulebook, car, now)
    return tuple(sorted(works, key=lambda one: not one.makes_legal))


def _try(trial: _Trial, rulebook: Rules, now: Present) -> WorkRemedy | None:
    room = room_left(rulebook, trial.after())
    spoils = (room < 0.0) & ~now.broken
    cures = (room >= 0.0) & now.broken
    cured = np.where(spoils.any(axis=1), 0, cures.sum(axis=1))
    best = int(np.argmax(cured))
    if cured[best] == 0:
        return None
    amount = float(trial.amount[best])
    return WorkRemedy(
        work=trial.work,
        amount=amount,
        unit=trial.unit,
        cures=tuple(np.flatnonzero(cures[best]).tolist()),
        makes_legal=bool(cured[best] == now.broken.sum()),
        column=trial.column,
        is_raised=trial.is_raised,
    )


def _against_rocking(rulebook: Rules, car: Field, now: Present) -> list[WorkRemedy]:
    """Of each kind of work that brings all four wheels down, the least."""
    broken = {
        column_owner(car.columns[rulebook.column[rule]])[0]: int(rule)
        for rule in np.flatnonzero(now.broken)
    }
    if not broken.keys() & {"twist", _TOUCH} or _now(car, "front_carrier") == _GUIDE:
        return []
    works: list[WorkRemedy] = []
    for trials in (_one_tyre(car), _one_end(car), _bends(car)):
        each = [(trial, _try(trial, rulebook, now)) for trial in trials]
        cured = [
            (not one.makes_legal, -len(one.cures), _steps(trial, one), place, one)
            for place, (trial, one) in enumerate(each)
            if one is not None
        ]
        if cured:
            works.append(min(cured, key=lambda one: one[:4])[4])
    if not works and _TOUCH in broken:
        works.append(
            WorkRemedy(
                work=Work.STOP_ROCKING,
                amount=0.0,
                unit="",
                cures=(broken[_TOUCH],),
                makes_legal=bool(now.broken.sum() == 1),
            )
        )
    return works


def _steps(trial: _Trial, remedy: WorkRemedy) -> int:
    return int(np.argmin(abs(trial.amount - remedy.amount)))


def _one_tyre(car: Field) -> Iterator[_Trial]:
    for end, side in _WHEELS:
        column = f"tyre_diameter_{end}_{side}"
        now = _now(car, column)
        if math.isnan(now):
            continue
        size = math.floor(round(now * 100.0, 6)) / 100.0
        smaller = np.round(size - np.append(0.0, _amounts(_TRUE_MM)), 2)
        yield _Trial(
            work=Work.TRUE_ONE,
            amount=smaller,
            unit="mm",
            after=partial(_with_tyre, car, column, smaller),
            column=column,
        )


def _with_tyre(car: Field, column: str, size: Floats) -> Field:
    if column not in TYRES:
        return _touching(with_columns(car, {column: size}))
    left, right = (
        size if one == column else np.full(len(size), _now(car, one)) for one in TYRES
    )
    return _touching(with_tyres(car, left, right))


def _one_end(car: Field) -> Iterator[_Trial]:
    for end, side in _WHEELS:
        column, amount = f"axle_height_{end}_{side}", _amounts(_SHIM_MM)
        for sign in (-1.0, 1.0):
            heights = {column: _now(car, column) + sign * amount}
            yield _Trial(
                work=Work.SHIM_AXLE,
                amount=amount,
                unit="mm",
                after=partial(_with_columns_touching, car, heights),
                column=column,
                is_raised=sign > 0.0,
            )


def _bends(car: Field) -> Iterator[_Trial]:
    amount = _amounts(_SHIM_MM)
    # So much at the wheels is less where the heights are read.
    share = _now(car, "axle_station_span_front") / _now(car, "track_front") / 2.0
    for down, up in (("right", "left"), ("left", "right")):
        heights = {
            f"axle_height_front_{side}": _now(car, f"axle_height_front_{side}")
            + sign * share * amount
            for side, sign in ((down, -1.0), (up, 1.0))
        }
        yield _Trial(
            work=Work.BEND,
            amount=amount,
            unit="mm",
            after=partial(_with_columns_touching, car, heights),
            column=f"axle_height_front_{down}",
        )


def _with_columns_touching(car: Field, values: dict[str, Floats]) -> Field:
    return _touching(with_columns(car, values))


def _touching(field: Field) -> Field:
    """Say that paper is held under all wheels where none is off by more than it."""
    place = field.position(_TOUCH)
    if place is None:
        return field
    (twist,) = Standing(Derivation(field, traced=False)).places("twist")
    value = field.value.copy()
    down = abs(twist.traced.value) <= _PAPER_MM
    value[:, place] = np.where(down, 1.0, value[:, place])
    return replace(field, value=value)


def _trials(car: Field) -> Iterator[_Trial]:
    yield from _weights(car)
    yield from _swaps(car)
    yield _truing(car)
    yield _body(car)
    if _now(car, "front_carrier") == _GUIDE:
        yield from _spacers(car)


def _now(car: Field, column: str) -> float:
    return float(Derivation(car, traced=False).column(column).value[0])


def _amounts(step_and_most: tuple[float, float]) -> Floats:
    step, most = step_and_most
    count = np.arange(1, round(most / step) + 1, dtype=np.float64)
    return np.round(count * step, 6)


def _weights(car: Field) -> Iterator[_Trial]:
    weight, amount = _now(car, "weight_car"), _amounts(_BALLAST_G)
    for work, sign in ((Work.BALLAST, 1.0), (Work.LIGHTEN, -1.0)):
        weights = {"weight_car": weight + sign * amount}
        yield _Trial(
            work=work,
            amount=amount,
            unit="g",
            after=partial(with_columns, car, weights),
        )


def _swaps(car: Field) -> Iterator[_Trial]:
    left, right = (np.full(1, _now(car, column)) for column in TYRES)
    yield _Trial(
        work=Work.SWAP_REAR,
        amount=np.zeros(1),
        unit="",
        after=partial(with_tyres, car, right, left),
    )
    sides = ("tyre_diameter_front_left", "tyre_diameter_front_right")
    front = [np.full(1, _now(car, side)) for side in sides]
    yield _Trial(
        work=Work.SWAP_FRONT,
        amount=np.zeros(1),
        unit="",
        after=partial(
            with_columns, car, dict(zip(sides, reversed(front), strict=True))
        ),
    )


def _truing(car: Field) -> _Trial:
    tyres = rear_tyres(car)
    smaller = math.floor(round(min(tyres.left_mm, tyres.right_mm) * 100.0, 6)) / 100.0
    size = np.round(smaller - np.append(0.0, _amounts(_TRUE_MM)), 2)
    return _Trial(
        work=Work.TRUE_DOWN,
        amount=size,
        unit="mm",
        after=partial(with_tyres, car, size, size),
    )


def _body(car: Field) -> _Trial:
    amount = _amounts(_BODY_MM)
    raised = {
        column: _now(car, column) + amount
        for column in ("clearance_body", "body_height")
    }
    return _Trial(
        work=Work.RAISE_BODY,
        amount=amount,
        unit="mm",
        after=partial(with_columns, car, raised),
    )


def _spacers(car: Field) -> Iterator[_Trial]:
    flange, amount = _now(car, "guide_flange_height"), _amounts(_SPACER_MM)
    for work, sign in (
        (Work.ADD_GUIDE_SPACERS, -1.0),
        (Work.TAKE_GUIDE_SPACERS, 1.0),
    ):
        heights = {"guide_flange_height": flange + sign * amount}
        yield _Trial(
            work=work,
            amount=amount,
            unit="mm",
            after=partial(with_columns, car, heights),
        )
