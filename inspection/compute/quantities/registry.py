"""
The registry of what a rule may speak of.

Plausible ranges, usual gauges and repeatabilities are common practice and have no
source.  Places on the car are in the chassis frame: the origin on the datum plane
(the flat underside) under the middle of the rear axle, x forward, y to the car's
left, z up.
"""

from collections.abc import Mapping
from types import MappingProxyType

from inspection.compute.quantities.body import BODY, OUTLINE_CORNERS
from inspection.compute.quantities.drive import DRIVE
from inspection.compute.quantities.looks import LOOKED
from inspection.compute.quantities.quantity import (
    AxleHeightTo,
    AxleHeld,
    FromPart,
    FrontCarrier,
    Handling,
    Keeps,
    Kind,
    Layout,
    Quantity,
    Side,
    Whereabouts,
    WorkedOut,
)
from inspection.compute.quantities.standing import STANDING
from inspection.compute.quantities.wheels import WHEELS
from inventory.compute.errors import ComputeError

__all__ = [
    "COLUMNS",
    "OUTLINE_CORNERS",
    "QUANTITIES",
    "AxleHeightTo",
    "AxleHeld",
    "FromPart",
    "FrontCarrier",
    "Handling",
    "Keeps",
    "Kind",
    "Layout",
    "Quantity",
    "Side",
    "UnknownColumnError",
    "UnknownQuantityError",
    "Whereabouts",
    "WorkedOut",
    "column_owner",
    "columns_of",
]

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


def label_of(column: str) -> str:
    """
    Name a column as people read it: the quantity, and the side if it has one.

    Parameters
    ----------
    column : str
        The column.

    Returns
    -------
    str
        The label.

    Raises
    ------
    UnknownColumnError
        With the column.

    Examples
    --------
    >>> label_of("wheelbase_right")
    'Wheelbase, right'
    """
    key, side = column_owner(column)
    label = QUANTITIES[key].label
    return f"{label}, {side}" if side else label
