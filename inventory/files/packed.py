"""
What is inside a packed workbook, found out before anything parses it.

A workbook is a ZIP of XML.  Its directory may lie, so every member is unpacked
piece by piece and counted, and the sheet is searched for its cells: how many, how
far apart, which hold formulas or errors.  Runs in the reading process.
"""

import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field

from inventory.compute.file_refusals import WhyNoTable
from inventory.files import limits
from inventory.files.refused import (
    DamagedWorkbookError,
    LockedWorkbookError,
    MacrosError,
    PackedBombError,
    TooManyColumnsError,
    TooManyRowsError,
    TooMuchTextError,
)

_PIECE = limits.MIB
#: A row or a cell, its attributes, and whether a formula follows.
_TAG = re.compile(
    rb"<(?:\w+:)?(?P<kind>row|c)(?P<said>[\s/][^>]*)?>(?:\s*<(?:\w+:)?(?P<formula>f)[\s>/])?"
)
_PLACE = re.compile(rb"\sr=[\"'](?P<column>[A-Z]{0,3})(?P<row>[0-9]{1,7})[\"']")
_SHEET = re.compile(r"<(?:\w+:)?sheet\s[^>]*>")
_RELATION = re.compile(r"<(?:\w+:)?Relationship\s[^>]*>")
#: Longer than a cell's opening tags; a cell cut in two is read with the next piece.
_CARRY = 2048
_UNREADABLE = (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError)


@dataclass(frozen=True, kw_only=True)
class SheetSize:
    """How many cells a sheet has, and which are no plain values; from (0, 0)."""

    rows: int
    columns: int
    formulas: list[tuple[int, int]] = field(default_factory=list)
    errors: list[tuple[int, int]] = field(default_factory=list)


class Packed:
    """A workbook as a ZIP, its members counted before they are believed."""

    def __init__(self, content: bytes) -> None:
        try:
            self._zip = zipfile.ZipFile(io.BytesIO(content))
            self._members = self._zip.infolist()
        except (zipfile.BadZipFile, ValueError, NotImplementedError) as error:
            raise _damaged() from error
        self._refuse_hostile()

    def sheet_files(self) -> dict[str, str]:
        """Give the member of each sheet, by the sheet's name, in their order."""
        names = {info.filename for info in self._members}
        targets = {
            _attribute(tag, "Id"): _attribute(tag, "Target")
            for tag in _RELATION.findall(self._text("xl/_rels/workbook.xml.rels"))
        }
        member_by_name: dict[str, str] = {}
        for tag in _SHEET.findall(self._text("xl/workbook.xml")):
            target = targets.get(_attribute(tag, r"\w+:id"), "").lstrip("/")
            member = target if target in names else f"xl/{target}"
            if member in names:
                member_by_name[_attribute(tag, "name")] = member
        return member_by_name

    def measure(self, member: str) -> SheetSize:
        """Search a sheet for its cells; refuse what is more than is read."""
        extent = _Found()
        for tag in self._tags(member):
            extent.take(tag)
        return SheetSize(
            rows=extent.last_row + 1,
            columns=extent.last_column + 1,
            formulas=extent.formulas[: limits.MARKED_CELLS],
            errors=extent.errors[: limits.MARKED_CELLS],
        )

    def _refuse_hostile(self) -> None:
        if len(self._members) > limits.MEMBERS:
            raise PackedBombError(
                WhyNoTable.MANY_MEMBERS,
                count=f"{len(self._members):,}",
                most=str(limits.MEMBERS),
            )
        for info in self._members:
            name = info.filename.lower()
            if name.endswith("vbaproject.bin") or "/macrosheets/" in name:
                raise MacrosError(WhyNoTable.MACROS)
            if info.flag_bits & 1:
                raise LockedWorkbookError(WhyNoTable.LOCKED)
        total = 0
        for info in self._members:
            size = 0
            for piece in self._pieces(info):
                size += len(piece)
                total += len(piece)
                _refuse_bomb(info, size, total)
        self._refuse_macro_type()

    def _refuse_macro_type(self) -> None:
        if "macroEnabled" in self._text("[Content_Types].xml"):
            raise MacrosError(WhyNoTable.MACRO_TYPE)

    def _text(self, member: str) -> str:
        try:
            info = self._zip.getinfo(member)
        except KeyError as error:
            raise _damaged() from error
        held = b""
        for piece in self._pieces(info):
            held += piece
            if len(held) > limits.MIB:
                raise _damaged()
        return held.decode("utf-8", "replace")

    def _pieces(self, info: zipfile.ZipInfo) -> Iterator[bytes]:
        try:
            with self._zip.open(info) as member:
                while piece := member.read(_PIECE):
                    yield piece
        except _UNREADABLE as error:
            raise _damaged() from error

    def _tags(self, member: str) -> Iterator[re.Match[bytes]]:
        held = b""
        for piece in self._pieces(self._zip.getinfo(member)):
            held += piece
            end = max(len(held) - _CARRY, 0)
            last = 0
            for tag in _TAG.finditer(held):
                if tag.start() >= end:
                    break
                last = tag.end()
                yield tag
            held = held[max(last, end) :]
        yield from _TAG.finditer(held)


class _Found:
    """The cells of a sheet as they go by; one without an address follows the last."""

    def __init__(self) -> None:
        self.count = 0
        self.row = self.column = -1
        self.last_row = self.last_column = -1
        self.formulas: list[tuple[int, int]] = []
        self.errors: list[tuple[int, int]] = []

    def take(self, tag: re.Match[bytes]) -> None:
        attributes = tag["said"] or b""
        place = _PLACE.search(attributes)
        if tag["kind"] == b"row":
            self.row = int(place["row"]) - 1 if place else self.row + 1
            self.column = -1
            return
        self.column += 1
        if place and place["column"]:
            self.row, self.column = int(place["row"]) - 1, _column(place["column"])
        if attributes.endswith(b"/"):
            return  # no value: a border, a colour
        self.count += 1
        self.last_row = max(self.last_row, self.row)
        self.last_column = max(self.last_column, self.column)
        _refuse_large(self.count, self.row, self.column)
        if tag["formula"]:
            self.formulas.append((self.row, self.column))
        if b' t="e"' in attributes:
            self.errors.append((self.row, self.column))


def _refuse_bomb(info: zipfile.ZipInfo, size: int, total: int) -> None:
    if total > limits.UNPACKED_BYTES:
        most = str(limits.UNPACKED_BYTES // limits.MIB)
        raise PackedBombError(WhyNoTable.UNPACKS_TO_MUCH, most=most)
    if size > limits.MIB and size > limits.RATIO * max(info.compress_size, 1):
        raise PackedBombError(WhyNoTable.UNPACKS_DENSELY, most=str(limits.RATIO))


def _refuse_large(count: int, row: int, column: int) -> None:
    if row >= limits.ROWS:
        raise TooManyRowsError(
            WhyNoTable.ROW_BEYOND, row=f"{row + 1:,}", most=f"{limits.ROWS:,}"
        )
    if column >= limits.COLUMNS:
        raise TooManyColumnsError(
            WhyNoTable.COLUMN_BEYOND,
            row=f"{row + 1:,}",
            column=f"{column + 1:,}",
            most=str(limits.COLUMNS),
        )
    if count > limits.CELLS:
        raise TooMuchTextError(WhyNoTable.MANY_CELLS, most=f"{limits.CELLS:,}")


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number - 1


def _attribute(tag: str, name: str) -> str:
    match = re.search(rf'\b{name}="([^"]*)"', tag)
    return _unescaped(match[1]) if match else ""


def _unescaped(text: str) -> str:
    for escape, sign in (("&lt;", "<"), ("&gt;", ">"), ("&quot;", '"')):
        text = text.replace(escape, sign)
    return text.replace("&apos;", "'").replace("&amp;", "&")


def _damaged() -> DamagedWorkbookError:
    return DamagedWorkbookError(WhyNoTable.DAMAGED)
