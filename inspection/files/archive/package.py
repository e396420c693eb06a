"""
The descriptor of an archive, ``datapackage.json``, after Frictionless Data Package v1.

What is ours in it stands under ``feelerbook``: the format's number, the program's
version, and the migrations that the tables are of.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from inspection.files.archive.tables import ArchiveTable

FORMAT: Final = 1
DESCRIPTOR: Final = "datapackage.json"
READ_ME: Final = "README.txt"
LINE_END: Final = "\r\n"

READ_ME_TEXT: Final = """\
The whole club, as it was at one moment.

data/            a CSV table (UTF-8, RFC 4180) for each kind of record
sheets/          what each seal signs, as canonical JSON (RFC 8785), by the sheet's
                 number; a night's seals are a SHA-256 chain over these
datapackage.json what each table and column is (Frictionless Data Package)

Passwords are not in it; names and all that was measured are. Keep it where only
those can read it who may. It is brought into an empty club, of either database:
    python manage.py bring_in_archive FILE --admin SIGN-IN-NAME
or on the page that begins a club.
"""


@dataclass(frozen=True, kw_only=True)
class Written:
    """What was written of a table: its size and what it hashes to."""

    table: ArchiveTable
    sha256: str
    size: int
    rows: int


@dataclass(frozen=True, kw_only=True)
class Origin:
    """What an archive is of."""

    club: str
    created: str
    version: str
    migrations: Mapping[str, str]


def path_of(table: str) -> str:
    return f"data/{table}.csv"


def sheet_path(number: str) -> str:
    return f"sheets/{number}.json"


def describe(
    origin: Origin, written: Sequence[Written], *, sheets: int
) -> dict[str, Any]:
    """Describe an archive that has been written."""
    return {
        "profile": "data-package",
        "name": "feelerbook-club",
        "title": origin.club or "Feelerbook club",
        "description": "A slot-car club's technical desk: parts, cars, rulebooks, race "
        "nights and sealed sheets. Sizes are whole millionths of their unit.",
        "created": origin.created,
        "feelerbook": {
            "format": FORMAT,
            "version": origin.version,
            "migrations": dict(origin.migrations),
            "sealed_sheets": {"folder": "sheets", "count": sheets},
        },
        "resources": [_resource(one) for one in written],
    }


def _resource(written: Written) -> dict[str, Any]:
    table = written.table
    return {
        "profile": "tabular-data-resource",
        "name": table.name,
        "path": path_of(table.name),
        "description": table.words,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": written.size,
        "hash": f"sha256:{written.sha256}",
        "rows": written.rows,
        "dialect": {"delimiter": ",", "lineTerminator": LINE_END, "header": True},
        "schema": {
            "fields": [column.as_field() for column in table.columns],
            "primaryKey": table.key,
            "missingValues": [""],
            "foreignKeys": [
                {
                    "fields": column.name,
                    "reference": {"resource": column.of, "fields": "id"},
                }
                for column in table.columns
                if column.of
            ],
        },
    }
