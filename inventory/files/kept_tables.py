"""A table that was read, packed to be kept until a person has looked at it."""

import json
import zlib
from dataclasses import asdict
from typing import Any

from inventory.compute.stock import PartKind
from inventory.files.columns import ColumnLayout, DecimalSign, LengthUnit
from inventory.files.marks import FileFacts, Mark
from inventory.files.roles import NOT_USED, roles_by_name
from inventory.files.tables import Table


def pack_table(table: Table) -> bytes:
    """Pack a table into bytes."""
    content = {
        "rows": table.rows,
        "facts": asdict(table.facts),
        "marks": [[*place, mark] for place, mark in table.marks.items()],
    }
    return zlib.compress(json.dumps(content, separators=(",", ":")).encode(), level=1)


def unpack_table(packed: bytes) -> Table:
    """Give back the table that `pack_table` was given."""
    content: dict[str, Any] = json.loads(zlib.decompress(packed))
    return Table(
        rows=content["rows"],
        facts=FileFacts(**content["facts"]),
        marks={(row, column): Mark(mark) for row, column, mark in content["marks"]},
    )


def layout_to_json(layout: ColumnLayout) -> dict[str, Any]:
    """Write a layout as JSON values."""
    return vars(layout) | {"roles": [role.name for role in layout.roles]}


def layout_from_json(members: dict[str, Any], kind: PartKind) -> ColumnLayout:
    """Read a layout that `layout_to_json` wrote of a table of a kind of part."""
    roles = roles_by_name(kind)
    return ColumnLayout(
        first_row=int(members["first_row"]),
        roles=tuple(roles.get(name, NOT_USED) for name in members["roles"]),
        unit=LengthUnit(members["unit"]),
        decimal=DecimalSign(members["decimal"]),
        low_mm=float(members["low_mm"]),
        high_mm=float(members["high_mm"]),
        shape=members.get("shape", ""),
        is_kind_asked=members.get("is_kind_asked", False),
        is_kept=members.get("is_kept", False),
        parts=tuple(members.get("parts", ())),
    )
