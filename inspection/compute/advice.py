"""
Remedies that need no part: ballast, a swap, the lathe, the body, guide spacers.

Each is tried in steps on one car, and said with the least amount that cures most
of what is broken and breaks nothing else.  Rules count at their limits themselves.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from inspection.compute.changes import TYRES, with_columns, with_tyres
from inspection.compute.derivations import Derivation
from inspection.compute.fields import Field
from inspection.compute.legality import (
    Present,
    mandatory_margins,
    present,
    rear_tyres,
)
from inspection.compute.quantities import FrontCarrier
from inspection.compute.rules import Rules

Floats: TypeAlias = NDArray[np.float64]
Bools: TypeAlias = NDArray[np.bool_]

_GUIDE: Final = tuple(FrontCarrier).index(FrontCarrier.GUIDE)
#: Steps and the most of each, in the unit of the amount.
_BALLAST_G: Final = (0.1, 60.0)
_TRUE_MM: Final = (0.01, 3.0)
_BODY_MM: Final = (0.1, 6.0)
_SPACER_MM: Final = (0.05, 3.0)


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


@dataclass(frozen=True, kw_only=True)
class WorkRemedy:
    """
    Work that cures broken rules.

    ``amount`` is in ``unit``, 0 for a swap; of truing it is the diameter to true
    both rear tyres to.  ``cures`` are places of rules; ``makes_legal`` says whether
    nothing stays broken.
    """

    work: Work
    amount: float
    unit: str
    cures: tuple[int, ...]
    makes_legal: bool
    sentence: str


@dataclass(frozen=True, kw_only=True, eq=False)
class _Trial:
    """A work, its amounts in rising order, and the car after each."""

    work: Work
    amount: Floats
    unit: str
    after: Callable[[], Field]
    sentence: str


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
    """
    rear_tyres(car)
    now = present(rulebook, car)
    if not now.broken.any():
        return ()
    tried = (_try(trial, rulebook, now) for trial in _trials(car))
    found = [remedy for remedy in tried if remedy is not None]
    return tuple(sorted(found, key=lambda one: not one.makes_legal))


def _try(trial: _Trial, rulebook: Rules, now: Present) -> WorkRemedy | None:
    margin = mandatory_margins(rulebook, trial.after())
    spoils = (margin < 0.0) & ~now.broken
    cures = (margin >= 0.0) & now.broken
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
        sentence=trial.sentence.format(amount),
    )


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
    for work, sign, sentence in (
        (Work.BALLAST, 1.0, "Add {:.1f} g of ballast."),
        (Work.LIGHTEN, -1.0, "Take {:.1f} g off."),
    ):
        weights = {"weight_car": weight + sign * amount}
        yield _Trial(
            work=work,
            amount=amount,
            unit="g",
            after=partial(with_columns, car, weights),
            sentence=sentence,
        )


def _swaps(car: Field) -> Iterator[_Trial]:
    left, right = (np.full(1, _now(car, column)) for column in TYRES)
    yield _Trial(
        work=Work.SWAP_REAR,
        amount=np.zeros(1),
        unit="",
        after=partial(with_tyres, car, right, left),
        sentence="Swap the rear tyres left and right.",
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
        sentence="Swap the front tyres left and right.",
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
        sentence="True both rear tyres down to {:.2f} mm.",
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
        sentence="Raise the body by {:.1f} mm.",
    )


def _spacers(car: Field) -> Iterator[_Trial]:
    flange, amount = _now(car, "guide_flange_height"), _amounts(_SPACER_MM)
    for work, sign, sentence in (
        (Work.ADD_GUIDE_SPACERS, -1.0, "Add {:.2f} mm of spacers above the guide."),
        (
            Work.TAKE_GUIDE_SPACERS,
            1.0,
            "Take {:.2f} mm of spacers out above the guide.",
        ),
    ):
        heights = {"guide_flange_height": flange + sign * amount}
        yield _Trial(
            work=work,
            amount=amount,
            unit="mm",
            after=partial(with_columns, car, heights),
            sentence=sentence,
        )
