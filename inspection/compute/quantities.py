"""
The registry of what a rule may speak of, and the readings that a rulebook asks.

Plausible ranges, usual gauges and repeatabilities are common practice and have no
source.  Places on the car are in the chassis frame: the origin on the datum plane
(the flat underside) under the middle of the rear axle, x forward, y to the car's
left, z up.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from inspection.compute.body_quantities import BODY, OUTLINE_CORNERS
from inspection.compute.drive_quantities import DRIVE
from inspection.compute.looked_quantities import LOOKED
from inspection.compute.quantity import (
    AxleHeightTo,
    AxleHeld,
    FrontCarrier,
    Handling,
    Keeps,
    Kind,
    Layout,
    Quantity,
    Side,
)
from inspection.compute.standing_quantities import STANDING
from inspection.compute.wheel_quantities import WHEELS
from inventory.compute.errors import ComputeError

__all__ = [
    "COLUMNS",
    "OUTLINE_CORNERS",
    "QUANTITIES",
    "READINGS_A_NIGHT",
    "AxleHeightTo",
    "AxleHeld",
    "FrontCarrier",
    "Handling",
    "Keeps",
    "Kind",
    "Layout",
    "Quantity",
    "ReadingsToTake",
    "Side",
    "UnknownColumnError",
    "UnknownQuantityError",
    "column_owner",
    "columns_of",
    "readings_to_take",
]

#: Readings that fit into the 60 to 90 seconds a car has on the block.
READINGS_A_NIGHT = 15

#: Every quantity, by its key, in the order of the pages.
QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    {row.key: row for row in (*STANDING, *WHEELS, *BODY, *DRIVE, *LOOKED)}
)

_OWNERS: Mapping[str, tuple[str, Side | None]] = MappingProxyType(
    {
        column: (row.key, side)
        for row in QUANTITIES.values()
        for column, side in zip(
            row.columns, tuple(Side) if row.sided else (None,), strict=True
        )
    }
)

#: Every column, in the order of the registry.
COLUMNS: tuple[str, ...] = tuple(_OWNERS)


class UnknownQuantityError(ComputeError):
    """No quantity of the registry has this key."""

    code = "unknown_quantity"


class UnknownColumnError(ComputeError):
    """No quantity of the registry has this column."""

    code = "unknown_column"


def columns_of(key: str) -> tuple[str, ...]:
    """
    Columns of a quantity.

    Parameters
    ----------
    key : str
        The quantity's key.

    Returns
    -------
    tuple of str
        One column, or left and right.

    Raises
    ------
    UnknownQuantityError
        With the key.

    Examples
    --------
    >>> columns_of("wheelbase")
    ('wheelbase_left', 'wheelbase_right')
    >>> columns_of("weight_car")
    ('weight_car',)
    """
    if key not in QUANTITIES:
        msg = f"There is no quantity “{key}”."
        raise UnknownQuantityError(msg)
    return QUANTITIES[key].columns


def column_owner(column: str) -> tuple[str, Side | None]:
    """
    Quantity and side that a column stands for.

    Parameters
    ----------
    column : str
        The column.

    Returns
    -------
    tuple of str and (Side or None)
        Key of the quantity; the side, or ``None`` where it has none.

    Raises
    ------
    UnknownColumnError
        With the column.

    Examples
    --------
    >>> column_owner("wheelbase_right")
    ('wheelbase', <Side.RIGHT: 'right'>)
    """
    if column not in _OWNERS:
        msg = f"There is no column “{column}”."
        raise UnknownColumnError(msg)
    return _OWNERS[column]


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadingsToTake:
    """
    What a rulebook asks of a car.

    Attributes
    ----------
    tonight : tuple of str
        Columns to read on the night, in the order that handles the car least.
    stored : tuple of str
        Columns of the car's own record, read once and after a change.
    declared : tuple of str
        Columns that the class or the owner states in words.
    """

    tonight: tuple[str, ...]
    stored: tuple[str, ...]
    declared: tuple[str, ...]


def readings_to_take(
    keys: Iterable[str],
    *,
    taken: Iterable[str] = (),
    front_carrier: FrontCarrier = FrontCarrier.FRONT_WHEELS,
    most_tonight: int = READINGS_A_NIGHT,
) -> ReadingsToTake:
    """
    Columns that the rules need, tonight's apart from the stored geometry.

    What wears or moves in a night is always tonight's, and so is what is looked
    at, which is no reading and does not count towards the most.  What changes
    only with a part is tonight's while there is room, a rule's own quantity
    before what merely leads to one.  The rest is stored.

    Parameters
    ----------
    keys : iterable of str
        Quantities that the rules speak of.
    taken : iterable of str
        Those of them that a rule or the class wants taken and not derived.
    front_carrier : FrontCarrier
        What carries the front in this class.
    most_tonight : int
        Most readings on the night.

    Returns
    -------
    ReadingsToTake
        Each column once.

    Raises
    ------
    UnknownQuantityError
        With the key.

    Examples
    --------
    >>> readings_to_take(["weight_car", "tyre_mismatch_rear"]).tonight
    ('weight_car', 'tyre_diameter_rear_left', 'tyre_diameter_rear_right')
    """
    direct = frozenset(taken)
    asked: dict[str, bool] = {}
    for key in keys:
        for column in columns_of(key):
            _collect(column, front_carrier, direct, asked, own=True)
    rows = {column: QUANTITIES[column_owner(column)[0]] for column in asked}
    declared = [name for name in rows if rows[name].kind is Kind.DECLARED]
    readings = [name for name in rows if name not in declared]
    tonight = _tonight(readings, rows, asked, most_tonight)
    return ReadingsToTake(
        tonight=_in_order(tonight),
        stored=_in_order(set(readings) - tonight),
        declared=_in_order(declared),
    )


def _collect(
    column: str,
    carrier: FrontCarrier,
    direct: frozenset[str],
    asked: dict[str, bool],
    *,
    own: bool,
) -> None:
    """Add the readings that lead to a column; ``own`` marks a rule's own."""
    key, _ = column_owner(column)
    row = QUANTITIES[key]
    needs = row.needs_of(carrier)
    if needs is None:
        return
    if not needs or (own and key in direct):
        asked[column] = asked.get(column, False) or own
        return
    for needed in needs:
        _collect(needed, carrier, direct, asked, own=False)


def _tonight(
    readings: Iterable[str],
    rows: Mapping[str, Quantity],
    own: Mapping[str, bool],
    most: int,
) -> set[str]:
    chosen = {name for name in readings if rows[name].keeps is Keeps.TONIGHT}
    room = most - sum(rows[name].kind is not Kind.LOOKED_AT for name in chosen)
    candidates = [name for name in readings if rows[name].keeps is Keeps.UNTIL_REFITTED]
    candidates.sort(key=lambda name: not own[name])
    return chosen | set(candidates[: max(room, 0)])


def _in_order(columns: Iterable[str]) -> tuple[str, ...]:
    def rank(column: str) -> tuple[int, int]:
        return QUANTITIES[column_owner(column)[0]].handling, COLUMNS.index(column)

    return tuple(sorted(columns, key=rank))
