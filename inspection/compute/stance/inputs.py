"""
What a quantity reads: asked of its own formula, on a car of which nothing is known.

Such a car has every column derived as far down as the formulas go, and each is
noted as it is asked for.  So nothing is listed by hand, and nothing left out.
"""

from collections.abc import Iterable, Mapping
from functools import cache
from types import MappingProxyType

import numpy as np

from inspection.compute.geometry import Traced
from inspection.compute.quantities import (
    COLUMNS,
    QUANTITIES,
    FrontCarrier,
    column_owner,
    columns_of,
)
from inspection.compute.stance.derivation import Derivation
from inspection.compute.stance.fields import (
    Field,
)
from inspection.compute.stance.places import Standing
from inventory.compute.arrays import Floats

#: One car alone would raise where several give NaN.
_CARS = 2


class Noting(Derivation):
    """
    A derivation that notes which column asks for which others.

    Parameters
    ----------
    field : Field
        The cars.

    Attributes
    ----------
    asked : dict of str to (dict of str to None)
        By quantity, or by column, what it asked for itself, in that order.
    """

    def __init__(self, field: Field) -> None:
        super().__init__(field, traced=False)
        self.asked: dict[str, dict[str, None]] = {}
        self._asking: list[str] = []

    def note(self, key: str) -> None:
        """
        Work a quantity out, and note what it asks for.

        Parameters
        ----------
        key : str
            A quantity, one with a formula or not.
        """
        # A new stance asks again for what an earlier quantity has asked for.
        standing = Standing(self)
        self._asking = [key]
        if QUANTITIES[key].has_formula:
            standing.places(key)
        for column in columns_of(key):
            self.column(column)

    def known(self, name: str) -> Floats:
        """
        Take a column's value, asked by nobody.

        Parameters
        ----------
        name : str
            The column.

        Returns
        -------
        (cars,) ndarray
            NaN where it is not known.
        """
        self._asking = [name]
        return self.column(name).value

    def column(self, name: str) -> Traced:
        """Take a column, noting who asks; as `Derivation.column`."""
        self._note(name)
        self._asking.append(name)
        traced = super().column(name)
        self._asking.pop()
        return traced

    def as_read(self, name: str) -> Traced:
        """Take a column as read, noting who asks; as `Derivation.as_read`."""
        self._note(name)
        return super().as_read(name)

    def derived(self, name: str) -> Traced:
        """Derive a column, noting what it asks for; as `Derivation.derived`."""
        self._note(name)
        self._asking.append(name)
        traced = super().derived(name)
        self._asking.pop()
        return traced

    def _note(self, name: str) -> None:
        by = self._asking[-1]
        if name != by:
            self.asked.setdefault(by, {})[name] = None


@cache
def inputs_of(key: str, carrier: FrontCarrier) -> frozenset[str]:
    """
    Columns that a rule on a quantity may rest on, its own among them.

    Parameters
    ----------
    key : str
        The rule's quantity.
    carrier : FrontCarrier
        What carries the front.

    Returns
    -------
    frozenset of str
        Columns of the registry.

    Examples
    --------
    >>> sorted(inputs_of("gear_ratio", FrontCarrier.GUIDE))
    ['gear_ratio', 'teeth_gear', 'teeth_pinion']
    """
    return frozenset(_reach(key, carrier)) | frozenset(columns_of(key))


@cache
def readings_behind(key: str, carrier: FrontCarrier) -> tuple[str, ...]:
    """
    Columns to read so that a quantity can be derived.

    Parameters
    ----------
    key : str
        The quantity.
    carrier : FrontCarrier
        What carries the front.

    Returns
    -------
    tuple of str
        Without what a formula can do without, or takes a default for; nothing
        where such a car has no such quantity, or it has no formula.
    """
    row = QUANTITIES[key]
    if not row.has_formula or row.only_on not in {None, carrier}:
        return ()
    own = columns_of(key)
    return tuple(
        column
        for column in _reach(key, carrier)
        if column not in own and is_asked_for(column)
    )


def is_asked_for(column: str) -> bool:
    """
    Tell whether a column has to be read for what is derived from it.

    Parameters
    ----------
    column : str
        The column.

    Returns
    -------
    bool
        False where it has a formula or a default, or a formula does without it.

    Examples
    --------
    >>> is_asked_for("tyre_diameter_rear_left"), is_asked_for("gear_ratio")
    (True, False)
    """
    row = QUANTITIES[column_owner(column)[0]]
    return not (row.has_formula or row.optional or row.default is not None)


@cache
def quantities_reading(columns: frozenset[str]) -> frozenset[str]:
    """
    Quantities that are derived from any of some columns, whatever carries the front.

    Parameters
    ----------
    columns : frozenset of str
        Columns of the registry.

    Returns
    -------
    frozenset of str
        Keys; not those of which a column is itself one of the given.
    """
    return frozenset(
        key
        for key, row in QUANTITIES.items()
        if row.has_formula
        and not columns.intersection(row.columns)
        and any(columns & inputs_of(key, carrier) for carrier in FrontCarrier)
    )


def _reach(key: str, carrier: FrontCarrier) -> tuple[str, ...]:
    return tuple(_reached(_asked(carrier), key))


@cache
def _asked(carrier: FrontCarrier) -> Mapping[str, Iterable[str]]:
    """Note what every quantity asks for itself."""
    noting = Noting(_unknown_cars(carrier))
    for key in QUANTITIES:
        noting.note(key)
    return MappingProxyType(noting.asked)


def _reached(asked: Mapping[str, Iterable[str]], key: str) -> dict[str, None]:
    """List what a quantity asks for, and what that asks for, and so on."""
    reached: dict[str, None] = {}
    waiting = [key]
    while waiting:
        name = waiting.pop()
        if name != key:
            reached[name] = None
        waiting.extend(
            one for one in reversed(list(asked.get(name, ()))) if one not in reached
        )
    return reached


def _unknown_cars(carrier: FrontCarrier) -> Field:
    value = np.full((_CARS, len(COLUMNS)), np.nan)
    value[:, COLUMNS.index("front_carrier")] = tuple(FrontCarrier).index(carrier)
    return Field(
        columns=COLUMNS,
        value=value,
        random=np.zeros_like(value),
        systematic=np.zeros_like(value),
        gauge=np.full(value.shape, -1),
    )
