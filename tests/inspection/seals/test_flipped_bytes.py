"""
Sealed sheets' stored form, flipped with the triggers dropped: named every time.

The stored form is every column of every row that hangs on a seal.  What a column
holds is flipped as its bytes, and written back as what it was: text as text, a number
as a number.  Keys that only number the rows of a table say nothing and are left.
"""

import random
import struct
import uuid
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest
from django.db import IntegrityError, connection, models, transaction
from django.utils.dateparse import parse_datetime

from inspection.loaders.seals.held_rows import differences_of_season
from inspection.loaders.seals.held_sheets import differences_of_night
from inspection.loaders.seals.one_moment import seen_at_one_moment
from inspection.models import (
    Finding,
    MotorSeal,
    NotePicture,
    RaceNight,
    Seal,
    SealContent,
    SealInputs,
    Sheet,
    SheetNote,
    SheetPart,
    SheetReading,
    Strike,
)
from tests import builders
from tests.inspection.seals_night import make_sealed_night
from tests.lifted import guards_lifted

pytestmark = [pytest.mark.django_db, pytest.mark.sqlite]

SEED = 20261130
Stored = str | int | float | bytes | None
#: The tables of the stored form, and how each finds its rows of a sheet.
TABLES: dict[type[models.Model], str] = {
    Seal: "sheet_id = {sheet}",
    SealContent: "seal_id = (SELECT id FROM inspection_seal WHERE sheet_id = {sheet})",
    SealInputs: "seal_id = (SELECT id FROM inspection_seal WHERE sheet_id = {sheet})",
    Sheet: "id = {sheet}",
    SheetReading: "sheet_id = {sheet}",
    SheetPart: "sheet_id = {sheet}",
    Finding: "sheet_id = {sheet}",
    SheetNote: "sheet_id = {sheet}",
    NotePicture: "note_id IN "
    "(SELECT id FROM inspection_sheetnote WHERE sheet_id = {sheet})",
    MotorSeal: "car_id = (SELECT e.car_id FROM inspection_entry e JOIN "
    "inspection_sheet s ON s.entry_id = e.id WHERE s.id = {sheet})",
    Strike: "reading_id IN "
    "(SELECT id FROM inspection_sheetreading WHERE sheet_id = {sheet})",
}


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One column of one row, of one sheet."""

    sheet: str
    table: str
    column: str
    key: int
    value: Stored
    is_flag: bool

    @property
    def raw(self) -> bytes:
        match self.value:
            case bytes():
                return self.value
            case str():
                return self.value.encode() or b"\0"
            case float():
                return struct.pack("<d", self.value)
            case int():
                return self.value.to_bytes(8, "little", signed=True)
            case None:
                return b"\0"

    def flipped(self, place: int, bit: int) -> Stored | tuple[str, bytes]:
        """Give the value with one bit other; text as its bytes, to be cast."""
        if self.is_flag:
            # Whatever is not 1 is read as no.
            return 1 - int(self.value == 1)
        raw = bytearray(self.raw)
        raw[place] ^= 1 << bit
        match self.value:
            case bytes():
                return bytes(raw)
            case str():
                return "text", bytes(raw)
            case float():
                found: float = struct.unpack("<d", bytes(raw))[0]
                return found
            case int():
                return int.from_bytes(raw, "little", signed=True)
            case None:
                return 1 << bit


@pytest.fixture
def night() -> RaceNight:
    return make_sealed_night(builders.make_scrutineer())


def cells_of(night: RaceNight) -> Iterator[Cell]:
    sheets = Sheet.objects.filter(seal__night=night).order_by("pk")
    for pk, number in sheets.values_list("pk", "number"):
        for model, condition in TABLES.items():
            table, fields = model._meta.db_table, model._meta.concrete_fields
            # With its sign before it a column comes as it is stored.
            columns = ", ".join(f"+{field.column}" for field in fields)
            where = condition.format(sheet=pk)
            with connection.cursor() as cursor:
                cursor.execute(f"SELECT id, {columns} FROM {table} WHERE {where}")
                rows = cursor.fetchall()
            for key, *values in rows:
                for field, value in zip(fields, values, strict=True):
                    if not field.primary_key:
                        yield Cell(
                            sheet=number,
                            table=table,
                            column=str(field.column),
                            key=key,
                            value=value,
                            is_flag=isinstance(field, models.BooleanField),
                        )


def says_the_same(cell: Cell, value: Stored | tuple[str, bytes]) -> bool:
    """
    Tell another spelling of the same: it changes nothing of what is read.

    A bit that only fills a packed text's last byte, a hexadecimal digit in
    capitals, a comma before the parts of a second, what is no moment where none was.
    """
    readers: dict[str, Callable[[bytes], object]] = {
        "packed": zlib.decompress,
        "reading_id": lambda raw: uuid.UUID(raw.decode()),
        "at": lambda raw: parse_datetime(raw.decode()),
    }
    is_moment = cell.column.endswith("_at")
    read = readers.get("at" if is_moment else cell.column)
    raw = value[1] if isinstance(value, tuple) else value
    if is_moment and cell.value is None:
        return parse_datetime(str(value)) is None
    if read is None or not isinstance(raw, bytes):
        return False
    try:
        return read(raw) == read(cell.raw)
    except (zlib.error, ValueError):
        return False


class UndoneError(Exception):
    """Ends a flip, so that it is rolled back."""


def is_named(night: RaceNight, cell: Cell, value: Stored | tuple[str, bytes]) -> bool:
    """Write a value, check the night, take the value back."""
    named: list[str] = []
    put = "CAST(%s AS TEXT)" if isinstance(value, tuple) else "%s"
    stored = value[1] if isinstance(value, tuple) else value
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(
                f"UPDATE {cell.table} SET {cell.column} = {put} WHERE id = %s",
                [stored, cell.key],
            )
            with seen_at_one_moment():
                found = [*differences_of_night(night), *differences_of_season()]
                named = [str(one) for one in found]
            raise UndoneError
    except UndoneError:
        return any(cell.sheet in one for one in named)
    except IntegrityError:
        # Of two rows that may not be alike the database itself refuses one.
        return True


@pytest.fixture
def unguarded(night: RaceNight) -> Iterator[RaceNight]:
    """Drop every trigger, and have the database check nothing of what is written."""
    with guards_lifted(*TABLES), connection.cursor() as cursor:
        cursor.execute("PRAGMA ignore_check_constraints = ON")
        cursor.execute("PRAGMA defer_foreign_keys = ON")
        yield night
        cursor.execute("PRAGMA ignore_check_constraints = OFF")


def missed(night: RaceNight, flips: Iterator[tuple[Cell, int, int]]) -> list[str]:
    return [
        f"{cell.table}.{cell.column} of row {cell.key}: {cell.value!r:.40} → "
        f"{cell.flipped(place, bit)!r:.40}"
        for cell, place, bit in flips
        if not says_the_same(cell, cell.flipped(place, bit))
        and not is_named(night, cell, cell.flipped(place, bit))
    ]


def seeded(cells: list[Cell], count: int) -> Iterator[tuple[Cell, int, int]]:
    """Give bits drawn evenly from all bytes that are stored."""
    chance = random.Random(SEED)
    weights = [len(cell.raw) for cell in cells]
    for cell in chance.choices(cells, weights, k=count):
        yield cell, chance.randrange(len(cell.raw)), chance.randrange(8)


def test_whole_night_holds_before_anything_is_flipped(unguarded: RaceNight) -> None:
    assert differences_of_night(unguarded) == []


def test_every_field_of_a_sealed_sheet_is_held(unguarded: RaceNight) -> None:
    """The lowest bit of the last byte of each kind of field, on a sheet each."""
    kinds: dict[tuple[str, str, type], Cell] = {}
    for cell in cells_of(unguarded):
        kinds.setdefault((cell.table, cell.column, type(cell.value)), cell)
    flips = ((cell, len(cell.raw) - 1, 0) for cell in kinds.values())
    assert len(kinds) > 60
    said = missed(unguarded, flips)
    assert said == [], said


def test_check_of_another_gauge_is_named_though_it_says_the_same(
    unguarded: RaceNight,
) -> None:
    cell = next(
        one
        for one in cells_of(unguarded)
        if one.column == "gauge_check_id" and one.value is not None
    )
    check = SheetReading.objects.get(pk=cell.key).gauge_check
    assert check is not None
    check.pk, check.gauge = None, builders.make_gauge().gauge
    check.save(force_insert=True)
    assert check.pk != cell.value
    assert is_named(unguarded, cell, check.pk)


def test_flipped_bytes_of_sealed_sheets_are_named(unguarded: RaceNight) -> None:
    cells = [*cells_of(unguarded)]
    said = missed(unguarded, seeded(cells, 150))
    assert said == [], said


@pytest.mark.long
def test_two_thousand_flipped_bytes_are_named(unguarded: RaceNight) -> None:
    cells = [*cells_of(unguarded)]
    assert missed(unguarded, seeded(cells, 2000)) == []


@pytest.mark.long
def test_every_byte_of_a_sealed_sheet_is_held(unguarded: RaceNight) -> None:
    cells = [*cells_of(unguarded)]
    first = [cell for cell in cells if cell.sheet == cells[0].sheet]
    chance = random.Random(SEED)
    flips = (
        (cell, place, chance.randrange(8))
        for cell in first
        for place in range(len(cell.raw))
    )
    assert missed(unguarded, flips) == []
