"""Taking the whole club out as an archive: read at one moment, sent as it is read."""

import datetime as dt
import json
from collections.abc import Iterator
from typing import Any, Final

from django.conf import settings

from inspection.files.archive.package import (
    DESCRIPTOR,
    READ_ME,
    READ_ME_TEXT,
    Origin,
    Written,
    describe,
    path_of,
    sheet_path,
)
from inspection.files.archive.packing import Packer, Tally, csv_pieces
from inspection.files.archive.tables import ArchiveTable, tables
from inspection.loaders.archive import newest_migrations, rows_of, signed_texts
from inspection.loaders.seals.one_moment import seen_at_one_moment
from inventory.actions.audit import Act, record_export, record_outside_event
from inventory.models import Club

#: What the audit row of it says was taken out.
WHOLE_CLUB: Final = "the whole club"


def take_out_club(*, at: dt.datetime, act: Act | None = None) -> Iterator[bytes]:
    """
    Take the whole club out as it is now; gives the archive piece by piece.

    Audits ``data.exported`` before anything is given; without an ``act`` it is done
    on the machine itself.
    """
    if act is None:
        record_outside_event("data.exported", subject=WHOLE_CLUB, at=at, form="zip")
    else:
        record_export(WHOLE_CLUB, act=act, form="zip")
    return club_archive(at=at)


def club_archive(*, at: dt.datetime) -> Iterator[bytes]:
    """Write the whole club as it is now, piece by piece.  Writes nothing here."""
    now = at.astimezone(dt.UTC)
    moment = (now.year, now.month, now.day, now.hour, now.minute, now.second)
    with Packer(at=moment) as packer:
        yield from packer.add(READ_ME, [READ_ME_TEXT.encode()])
        yield from _members(packer, now)
        yield packer.end()


def _members(packer: Packer, now: dt.datetime) -> Iterator[bytes]:
    written: list[Written] = []
    with seen_at_one_moment():
        origin = _origin(now)
        for table in tables():
            tally = Tally()
            pieces = csv_pieces(table.columns, _rows_of(table), tally)
            yield from packer.add(path_of(table.name), pieces)
            written.append(_written(table, tally))
        sheets = 0
        for number, text in signed_texts():
            sheets += 1
            yield from packer.add(sheet_path(number), [text.encode()])
    descriptor = describe(origin, written, sheets=sheets)
    text = json.dumps(descriptor, ensure_ascii=False, indent=1)
    yield from packer.add(DESCRIPTOR, [text.encode()])


def digest_of(table: ArchiveTable) -> str:
    """Hash a table as an archive would hold it.  Writes nothing."""
    tally = Tally()
    for _piece in csv_pieces(table.columns, _rows_of(table), tally):
        pass
    return tally.sha256


def _origin(now: dt.datetime) -> Origin:
    return Origin(
        club=Club.objects.values_list("name", flat=True).first() or "",
        created=now.isoformat(timespec="seconds"),
        version=settings.VERSION,
        migrations=newest_migrations(),
    )


def _rows_of(table: ArchiveTable) -> Iterator[list[tuple[Any, ...]]]:
    names = [column.name for column in table.columns]
    return rows_of(table.model, names, key=table.key, at_once=table.rows_at_once)


def _written(table: ArchiveTable, tally: Tally) -> Written:
    return Written(table=table, sha256=tally.sha256, size=tally.size, rows=tally.rows)
