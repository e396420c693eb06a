"""
What part would help, when the stock has none: its size, as a range.

One size at a time is tried on one car, everything else as it is.  Under guarded
acceptance it leaves the car inside by the guard band, else at the limit itself; a
range is rounded inwards.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from inspection.compute.judging import Rules
from inspection.compute.quantities import QUANTITIES
from inspection.compute.stance import Derivation, Field
from inspection.compute.what_if import (
    Present,
    nearest_run,
    present,
    rear_tyres,
    room_left,
    with_columns,
    with_tyres,
)
from inventory.compute.arrays import Floats
from inventory.compute.stock import PartKind

#: Kind of part, its size, the unit, and the decimals of a step.
_TRIED: Final = (
    (PartKind.GEAR, "gear_diameter", "mm", 1),
    (PartKind.GEAR, "teeth_gear", "teeth", 0),
    (PartKind.MOTOR, "can_height", "mm", 1),
    (PartKind.MOTOR, "can_width", "mm", 1),
    (PartKind.MOTOR, "can_length", "mm", 1),
    (PartKind.MOTOR, "motor_speed", "rpm", -2),
    (PartKind.MOTOR, "motor_resistance", "ohm", 2),
)


@dataclass(frozen=True, kw_only=True)
class Wish:
    """
    A part that would help.

    ``column`` is the size meant, ``lowest`` and ``highest`` where it would do, in
    ``unit``, tried to so many ``decimals``; None at the end of what is plausible.
    ``cures`` are places of rules; ``makes_legal`` says whether nothing stays broken.
    """

    kind: PartKind
    column: str
    lowest: float | None
    highest: float | None
    unit: str
    decimals: int
    cures: tuple[int, ...]
    makes_legal: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class _Size:
    """Sizes to try in rising order, and the car with each."""

    kind: PartKind
    column: str
    unit: str
    decimals: int
    size: Floats
    now: float
    after: Callable[[], Field]


def what_would_help(rulebook: Rules, car: Field) -> tuple[Wish, ...]:
    """
    Say which part would cure most of what a car breaks, and break nothing else.

    Parameters
    ----------
    rulebook : Rules
        The rules, for this car.
    car : Field
        One row.

    Returns
    -------
    tuple of Wish
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
    ...         "teeth_pinion": [10.0],
    ...         "teeth_gear": [24.0],
    ...     }
    ... )
    >>> rules = Rules.within({"teeth_gear": (26.0, 30.0)}, columns=car.columns)
    >>> wishes = what_would_help(rules, car)
    >>> [(one.column, one.lowest, one.highest, one.unit) for one in wishes]
    [('teeth_gear', 26.0, 30.0, 'teeth')]
    """
    rear_tyres(car)
    now = present(rulebook, car)
    if not now.broken.any():
        return ()
    tried = (_try(size, rulebook, now) for size in _sizes(car))
    wishes = [wish for wish in tried if wish is not None]
    return tuple(sorted(wishes, key=lambda wish: not wish.makes_legal))


def _try(sizes: _Size, rulebook: Rules, now: Present) -> Wish | None:
    room = room_left(rulebook, sizes.after())
    cures = (room >= 0.0) & now.broken
    spoils = ((room < 0.0) & ~now.broken).any(axis=1)
    cured = np.where(spoils, 0, cures.sum(axis=1))
    if not cured.any():
        return None
    best = cured == cured.max()
    run = nearest_run(best, abs(sizes.size - sizes.now))
    lowest = float(sizes.size[run.first]) if run.first > 0 else None
    highest = float(sizes.size[run.last]) if run.last < len(best) - 1 else None
    always = cures[run.first : run.last + 1].all(axis=0)
    return Wish(
        kind=sizes.kind,
        column=sizes.column,
        lowest=lowest,
        highest=highest,
        unit=sizes.unit,
        decimals=sizes.decimals,
        cures=tuple(np.flatnonzero(always).tolist()),
        makes_legal=bool(always.sum() == now.broken.sum()),
    )


def _sizes(car: Field) -> Iterator[_Size]:
    for kind, column, unit, decimals in _TRIED:
        size = _plausible(column, decimals)
        yield _Size(
            kind=kind,
            column=column,
            unit=unit,
            decimals=max(decimals, 0),
            size=size,
            now=_now(car, column),
            after=partial(with_columns, car, {column: size}),
        )
    size = _plausible("tyre_diameter_rear", 1)
    yield _Size(
        kind=PartKind.TYRE,
        column="tyre_diameter_rear",
        unit="mm",
        decimals=1,
        size=size,
        now=rear_tyres(car).mean_mm,
        after=partial(with_tyres, car, size, size),
    )


def _now(car: Field, column: str) -> float:
    return float(Derivation(car, traced=False).column(column).value[0])


def _plausible(key: str, decimals: int) -> Floats:
    row, steps = QUANTITIES[key], 10.0**decimals
    return np.arange(round(row.low * steps), round(row.high * steps) + 1) / steps
