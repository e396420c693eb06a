"""Which readings a rulebook asks of a car: tonight's, and the stored geometry."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from inspection.compute.quantities import (
    COLUMNS,
    QUANTITIES,
    FrontCarrier,
    Keeps,
    Kind,
    Quantity,
    column_owner,
    columns_of,
)
from inspection.compute.stance import readings_behind

#: Readings that fit into the 60 to 90 seconds a car has on the block.
READINGS_A_NIGHT = 15


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
    # By column, whether a rule speaks of it itself.
    asked: dict[str, bool] = {}
    for key in keys:
        own = columns_of(key)
        row = QUANTITIES[key]
        if row.only_on not in {None, front_carrier}:
            continue
        if key in direct or not row.has_formula:
            asked.update(dict.fromkeys(own, True))
            continue
        for column in readings_behind(key, front_carrier):
            asked.setdefault(column, False)
    rows = {column: QUANTITIES[column_owner(column)[0]] for column in asked}
    declared = [name for name in rows if rows[name].kind is Kind.DECLARED]
    readings = [name for name in rows if name not in declared]
    tonight = _tonight(readings, rows, asked, most_tonight)
    return ReadingsToTake(
        tonight=_in_order(tonight),
        stored=_in_order(set(readings) - tonight),
        declared=_in_order(declared),
    )


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
