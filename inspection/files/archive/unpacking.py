"""
Reading an archive: nothing in it is believed before it was looked at.

A ZIP may name members outside its folder, name one twice, or unpack a few bytes to
gigabytes.  Nothing is unpacked to a disk; members are known by name alone, read in
lines of a bounded length, and never further than they said that they go.
"""

import csv
import json
import re
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, Any, Final

from django.utils.translation import gettext as _

from inspection.files.archive.package import DESCRIPTOR, path_of, sheet_path
from inspection.files.archive.packing import Tally
from inspection.files.archive.refused import (
    DamagedArchiveError,
    HostileArchiveError,
    NotAnArchiveError,
)
from inspection.files.archive.tables import ArchiveTable

MIB: Final = 1024 * 1024
#: Two thousand cars over twenty years make some tens of thousands of sheets.
MOST_MEMBERS: Final = 2_000_000
MOST_DESCRIPTOR: Final = 8 * MIB
MOST_SHEET: Final = 8 * MIB
MOST_LINE: Final = 8 * MIB
#: Tables of like rows pack to a twentieth; what packs much more is made to.
MOST_RATIO: Final = 250
_RATIO_FROM: Final = MIB
_NAMES: Final = re.compile(
    r"datapackage\.json|README\.txt|data/[a-z_]+\.csv|sheets/[A-Za-z0-9_-]+\.json"
)
_DAMAGED: Final = (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError)
_NO_VALUE: Final = (ValueError, LookupError, ArithmeticError, RecursionError)
_PACKINGS: Final = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


class Archive:
    """An archive that was opened, and whose list of members is as it should be."""

    def __init__(self, file: IO[bytes]) -> None:
        try:
            self._zip = zipfile.ZipFile(file)
            members = self._zip.infolist()
        except (zipfile.BadZipFile, ValueError, NotImplementedError, OSError) as error:
            msg = _(
                "The file is no archive of a club, or not a whole one: a ZIP was "
                "expected, as “Take the club out” gives it."
            )
            raise NotAnArchiveError(msg) from error
        _refuse_hostile(members)
        self._members = {info.filename: info for info in members}
        self.descriptor = self._read_descriptor()

    def rows(self, table: ArchiveTable) -> Iterator[list[Any]]:
        """Give a table's rows; at its end its hash must be the one that was said."""
        name = path_of(table.name)
        tally = Tally()
        # A picture is one cell; lines are bounded by themselves.
        csv.field_size_limit(MOST_LINE)
        with self._opened(name) as member:
            lines = csv.reader(_lines(name, member, tally), strict=True)
            heading = _next(name, lines)
            if heading != [column.name for column in table.columns]:
                raise _damaged(name, _("its heading is not that of its columns"))
            number = 1
            while (cells := _next(name, lines)) is not None:
                number += 1
                yield _row(
                    table,
                    cells,
                    where=_("%(name)s, row %(number)s")
                    % {"name": name, "number": number},
                )
        promised_hash = self._resources().get(table.name, {}).get("hash")
        if promised_hash != f"sha256:{tally.sha256}":
            raise _damaged(name, _("its SHA-256 is not the one that was noted"))

    def sheet(self, number: str) -> str:
        """Give what the seal of a sheet signs."""
        name = sheet_path(number)
        with self._opened(name) as member:
            text = member.read(MOST_SHEET + 1)
        if len(text) > MOST_SHEET:
            raise _damaged(name, _("it is longer than any sheet"))
        try:
            return text.decode()
        except UnicodeDecodeError as error:
            raise _damaged(name, _("it is no text in UTF-8")) from error

    def table_names(self) -> list[str]:
        return list(self._resources())

    def fields(self, table: str) -> list[str]:
        """Name the columns that the archive's own descriptor says of a table."""
        try:
            fields = self._resources()[table]["schema"]["fields"]
            return [str(field["name"]) for field in fields]
        except (LookupError, TypeError) as error:
            says = _("it says no columns of %(table)s") % {"table": table}
            raise _damaged(DESCRIPTOR, says) from error

    def _resources(self) -> dict[str, Any]:
        try:
            return {one["name"]: one for one in self.descriptor["resources"]}
        except (LookupError, TypeError) as error:
            raise _damaged(DESCRIPTOR, _("it names no tables")) from error

    def _read_descriptor(self) -> dict[str, Any]:
        if DESCRIPTOR not in self._members:
            msg = _("The ZIP has no %(name)s: it is no archive of a club.") % {
                "name": DESCRIPTOR
            }
            raise NotAnArchiveError(msg)
        with self._opened(DESCRIPTOR) as member:
            text = member.read(MOST_DESCRIPTOR)
        try:
            descriptor = json.loads(text)
        except (ValueError, RecursionError) as error:
            raise _damaged(DESCRIPTOR, _("it is no JSON")) from error
        if not isinstance(descriptor, dict) or "feelerbook" not in descriptor:
            msg = _("The %(name)s is not one of a Feelerbook club.") % {
                "name": DESCRIPTOR
            }
            raise NotAnArchiveError(msg)
        return descriptor

    @contextmanager
    def _opened(self, name: str) -> Iterator[IO[bytes]]:
        info = self._members.get(name)
        if info is None:
            raise _damaged(name, _("it is missing"))
        try:
            with self._zip.open(info) as member:
                yield member
        except _DAMAGED as error:
            raise _damaged(name, _("it cannot be unpacked")) from error


def _refuse_hostile(members: list[zipfile.ZipInfo]) -> None:
    if len(members) > MOST_MEMBERS:
        msg = _("The ZIP has %(count)s members; at most %(most)s.") % {
            "count": f"{len(members):,}",
            "most": f"{MOST_MEMBERS:,}",
        }
        raise HostileArchiveError(msg)
    names: set[str] = set()
    for info in members:
        # The name as it is in the file: the module ends it at a NUL.
        name = info.orig_filename
        if not _NAMES.fullmatch(name):
            msg = _("The ZIP holds “%(name)s”, which no archive of a club does.") % {
                "name": name[:80]
            }
            raise HostileArchiveError(msg)
        if name in names:
            msg = _("The ZIP holds “%(name)s” twice.") % {"name": name}
            raise HostileArchiveError(msg)
        names.add(name)
        _refuse_member(info)


def _refuse_member(info: zipfile.ZipInfo) -> None:
    if info.flag_bits & 1 or info.compress_type not in _PACKINGS:
        msg = _("“%(name)s” is locked, or packed in a way that is not read here.") % {
            "name": info.filename
        }
        raise HostileArchiveError(msg)
    is_large = info.file_size > _RATIO_FROM
    if is_large and info.file_size > MOST_RATIO * max(info.compress_size, 1):
        msg = _(
            "“%(name)s” unpacks to %(large)s MB out of %(small)s MB: no table does."
        ) % {
            "name": info.filename,
            "large": f"{info.file_size / MIB:,.0f}",
            "small": f"{info.compress_size / MIB:,.2f}",
        }
        raise HostileArchiveError(msg)


def _lines(name: str, member: IO[bytes], tally: Tally) -> Iterator[str]:
    while line := member.readline(MOST_LINE):
        if len(line) == MOST_LINE:
            raise _damaged(name, _("a line of it is longer than any row"))
        tally.add(line)
        try:
            yield line.decode()
        except UnicodeDecodeError as error:
            raise _damaged(name, _("it is no text in UTF-8")) from error


def _next(name: str, lines: Iterator[list[str]]) -> list[str] | None:
    try:
        return next(lines, None)
    except csv.Error as error:
        raise _damaged(name, _("it is no CSV")) from error


def _row(table: ArchiveTable, cells: list[str], *, where: str) -> list[Any]:
    if len(cells) != len(table.columns):
        says = _("it has %(count)s cells, not %(expected)s") % {
            "count": len(cells),
            "expected": len(table.columns),
        }
        raise _damaged(where, says)
    values = []
    for column, cell in zip(table.columns, cells, strict=True):
        try:
            values.append(column.read(cell))
        except _NO_VALUE as error:
            says = _("“%(cell)s” is no %(type)s for %(column)s") % {
                "cell": cell[:40],
                "type": column.sort.type,
                "column": column.name,
            }
            raise _damaged(where, says) from error
    return values


def _damaged(where: str, says: str) -> DamagedArchiveError:
    return DamagedArchiveError(
        _("The archive is damaged: %(where)s: %(says)s. Take the club out again.")
        % {"where": where, "says": says}
    )
