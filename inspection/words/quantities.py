"""
Names of quantities and of their columns, and how each is taken.

Their English stands in the registry, in one place with unit and range; in another
language it is looked up by that.
"""

from functools import lru_cache

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from inspection.compute.quantities import QUANTITIES, Quantity, column_owner
from inventory.words.enumerations import word_of


def quantity_name(quantity: Quantity | str) -> str:
    """
    Name a quantity.

    Parameters
    ----------
    quantity : Quantity or str
        The quantity, or its key.

    Returns
    -------
    str
        As it begins a line.
    """
    row = QUANTITIES[quantity] if isinstance(quantity, str) else quantity
    return _(row.label)


def how_taken(quantity: Quantity) -> str:
    """
    Say how a quantity is taken.

    Parameters
    ----------
    quantity : Quantity
        Of the registry.

    Returns
    -------
    str
        A sentence; empty where the registry has none.
    """
    return _(quantity.how) if quantity.how else ""


def column_name(column: str) -> str:
    """
    Name a column: its quantity, and the side if it has one.

    Parameters
    ----------
    column : str
        Of the registry.

    Returns
    -------
    str
        As it begins a line.

    Raises
    ------
    UnknownColumnError
        With the column.
    """
    return _column_name(column, get_language())


# Each rule of a page names the columns that it rests on.
@lru_cache(maxsize=2_000)
def _column_name(column: str, language: str | None) -> str:
    del language
    key, side = column_owner(column)
    if side is None:
        return quantity_name(key)
    filled_in = {"quantity": quantity_name(key), "side": word_of(side)}
    return _("%(quantity)s, %(side)s") % filled_in
