"""What a command's options say of the columns of a table."""

from collections.abc import Sequence
from dataclasses import replace
from typing import ClassVar

from inventory.compute.errors import ComputeError
from inventory.compute.stock import PartKind
from inventory.files.columns import ColumnLayout, column_letter, headings_of
from inventory.files.roles import NOT_USED, ColumnRole, roles_by_name
from inventory.files.tables import Table


class NotAColumnError(ComputeError):
    """An option names no column of the table, or nothing that one may hold."""

    code: ClassVar[str] = "not_a_column"


def with_column(table: Table, layout: ColumnLayout, argument: str) -> ColumnLayout:
    """Say of one column what it holds; a word that had another column leaves it."""
    name, _, where = (text.strip() for text in argument.partition("="))
    roles = roles_by_name(PartKind.TYRE)
    if name not in roles:
        msg = (
            f"--column {argument}: expected ROLE=COLUMN with one of {', '.join(roles)}."
        )
        raise NotAColumnError(msg)
    column = _column(headings_of(table, layout.first_row), where)
    if column is None:
        letters = f"A to {column_letter(max(table.width - 1, 0))}"
        msg = (
            f"--column {argument}: no column is headed “{where}”; the letters are "
            f"{letters}."
        )
        raise NotAColumnError(msg)
    role = roles[name]
    is_one = role.size is None
    return replace(
        layout, roles=tuple(_said_roles(layout.roles, column, role, is_one=is_one))
    )


def _said_roles(
    roles: Sequence[ColumnRole], column: int, role: ColumnRole, *, is_one: bool
) -> list[ColumnRole]:
    others = [NOT_USED if is_one and each is role else each for each in roles]
    return [*others[:column], role, *others[column + 1 :]]


def _column(headings: Sequence[str], where: str) -> int | None:
    """Find a column by its heading, else by its letter."""
    alike = [heading.casefold() for heading in headings]
    letters = [column_letter(place) for place in range(len(headings))]
    if where.casefold() in alike:
        return alike.index(where.casefold())
    return letters.index(where.upper()) if where.upper() in letters else None
