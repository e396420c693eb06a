"""A table that was read, packed to be kept until a person has looked at it."""

import json
import zlib
from dataclasses import asdict
from typing import Any

from inventory.files.columns import ColumnRole, DecimalSign, Layout, LengthUnit
from inventory.files.marks import FileFacts, Mark
from inventory.files.tables import Table


def pack_table(table: Table) -> bytes:
    """Pack a table into bytes."""
    said = {
        "rows": table.rows,
        "facts": asdict(table.facts),
        "marks": [[*place, mark] for place, mark in table.marks.items()],
    }
    return zlib.compress(json.dumps(said, separators=(",", ":")).encode(), level=1)


def unpack_table(packed: bytes) -> Table:
    """Give back the table that `pack_table` was given."""
    said: dict[str, Any] = json.loads(zlib.decompress(packed))
    return Table(
        rows=said["rows"],
        facts=FileFacts(**said["facts"]),
        marks={(row, column): Mark(mark) for row, column, mark in said["marks"]},
    )


def layout_to_json(layout: Layout) -> dict[str, Any]:
    """Write a layout as JSON values."""
    return asdict(layout)


def layout_from_json(said: dict[str, Any]) -> Layout:
    """Read a layout that `layout_to_json` wrote."""
    return Layout(
        first_row=int(said["first_row"]),
        roles=tuple(ColumnRole(role) for role in said["roles"]),
        unit=LengthUnit(said["unit"]),
        decimal=DecimalSign(said["decimal"]),
        low_mm=float(said["low_mm"]),
        high_mm=float(said["high_mm"]),
    )
