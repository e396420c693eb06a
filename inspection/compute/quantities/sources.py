"""Where the value that a rule sees comes from, the nearest source first."""

from collections.abc import Mapping, Sequence
from enum import Enum, StrEnum, auto
from types import MappingProxyType
from typing import Final, TypeVar

from inspection.compute.night import PartPosition
from inspection.compute.quantities.registry import QUANTITIES
from inventory.compute.stock import PartQuantity


class Source(StrEnum):
    """The first of these that has a value gives it; they are never averaged."""

    TAKEN = "this sheet"
    CARRIED = "carried over"
    FITTED_PART = "fitted part"
    STORED = "stored geometry"
    DECLARED = "declared"


class Witness(Enum):
    """What may say the same of a car: a sheet, the parts that sit on it, its record."""

    READINGS = auto()
    PARTS = auto()
    STORED = auto()


#: On the block what is read is the car as it stands, worn as it is tonight: it comes
#: before what a part was when it lay on the bench.
ON_THE_BLOCK: Final = (Witness.READINGS, Witness.PARTS, Witness.STORED)
#: Off the block the sheet is over.  Its seal told the parts what was read of them, and
#: since then a part may have been measured anew or another put on: the parts come
#: before the sheet.  What else was changed since is taken out of the sheet first.
OFF_THE_BLOCK: Final = (Witness.PARTS, Witness.READINGS, Witness.STORED)

Said = TypeVar("Said")


def nearest(
    by_witness: Mapping[Witness, Mapping[str, Said]], order: Sequence[Witness]
) -> dict[str, Said]:
    """
    Give each column what the first of an order says that says anything of it.

    Parameters
    ----------
    by_witness : mapping
        By evidence, what it says of columns.
    order : sequence of Witness
        ON_THE_BLOCK or OFF_THE_BLOCK.

    Returns
    -------
    dict
        By column; values are never averaged.

    Examples
    --------
    >>> by_witness = {Witness.READINGS: {"weight_car": 98.2},
    ...         Witness.PARTS: {},
    ...         Witness.STORED: {"weight_car": 98.0, "wheelbase_left": 81.0}}
    >>> nearest(by_witness, ON_THE_BLOCK)
    {'weight_car': 98.2, 'wheelbase_left': 81.0}
    """
    chosen: dict[str, Said] = {}
    for one in reversed(order):
        chosen |= by_witness[one]
    return chosen


_GIVEN_BY = tuple(
    (position, row.from_part.size, column)
    for row in QUANTITIES.values()
    if row.from_part is not None
    for position, column in zip(row.from_part.places, row.columns, strict=True)
)

#: The column of a car that a part's measured size gives, by where it sits.
PART_COLUMNS: Mapping[tuple[PartPosition, PartQuantity], str] = MappingProxyType(
    {
        (position, size): column
        for position, size, column in _GIVEN_BY
        if size is not None
    }
)

#: The column that a gear's count of teeth gives.
TEETH_COLUMNS: Mapping[PartPosition, str] = MappingProxyType(
    {position: column for position, size, column in _GIVEN_BY if size is None}
)
