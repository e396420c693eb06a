"""
Writing an archive piece by piece: nothing of it is held but what was written last.

A ZIP is written into a drain that the sender empties as it goes, so that it needs
neither a file nor the memory for one.
"""

import csv
import hashlib
import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Self

from inspection.files.archive.columns import Column
from inspection.files.archive.package import LINE_END

_SEND_AT: Final = 64 * 1024


class Drain(io.RawIOBase):
    """What a ZIP is written into, and taken out of again."""

    def __init__(self) -> None:
        self._pieces: list[bytes] = []
        self._waiting = 0

    def writable(self) -> bool:
        return True

    def write(self, piece: Any) -> int:
        self._pieces.append(bytes(piece))
        self._waiting += len(piece)
        return len(piece)

    @property
    def is_full(self) -> bool:
        return self._waiting >= _SEND_AT

    def take(self) -> bytes:
        """Give what was written since the last time."""
        taken = b"".join(self._pieces)
        self._pieces, self._waiting = [], 0
        return taken


@dataclass
class Tally:
    """The size and the hash of a table while it is written."""

    rows: int = 0
    size: int = 0
    _hash: Any = field(default_factory=hashlib.sha256)

    def add(self, piece: bytes, *, rows: int = 0) -> None:
        self.rows += rows
        self.size += len(piece)
        self._hash.update(piece)

    @property
    def sha256(self) -> str:
        return str(self._hash.hexdigest())


def csv_pieces(
    columns: Sequence[Column],
    chunks: Iterable[Sequence[Sequence[Any]]],
    tally: Tally,
) -> Iterator[bytes]:
    """Write a table's heading and its rows, a chunk of them at a time."""
    piece = _csv([[column.name for column in columns]])
    tally.add(piece)
    yield piece
    for chunk in chunks:
        piece = _csv(
            [column.write(cell) for column, cell in zip(columns, row, strict=True)]
            for row in chunk
        )
        tally.add(piece, rows=len(chunk))
        yield piece


def _csv(rows: Iterable[Sequence[str]]) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator=LINE_END).writerows(rows)
    # SQLite may hold bytes that are no text; they are given on as they are.
    return text.getvalue().encode(errors="surrogateescape")


class Packer:
    """An archive being written."""

    def __init__(self, *, at: tuple[int, int, int, int, int, int]) -> None:
        self.drain = Drain()
        self._at = at
        self._zip = zipfile.ZipFile(
            self.drain, "w", compression=zipfile.ZIP_DEFLATED, compresslevel=6
        )

    def add(self, name: str, pieces: Iterable[bytes]) -> Iterator[bytes]:
        """Write a member; gives what can be sent on meanwhile."""
        info = zipfile.ZipInfo(name, date_time=self._at)
        info.compress_type = zipfile.ZIP_DEFLATED
        info.external_attr = 0o600 << 16
        with self._zip.open(info, "w", force_zip64=True) as member:
            for piece in pieces:
                member.write(piece)
                if self.drain.is_full:
                    yield self.drain.take()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        # Whoever reads it may stop half-way: what is then still written goes nowhere.
        self._zip.close()

    def end(self) -> bytes:
        """Write the directory; gives what has not been sent."""
        self._zip.close()
        return self.drain.take()
