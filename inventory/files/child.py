"""
The reading process: a hostile file costs this process and no other.

Bytes come in on standard input behind one line of JSON (which sheet, which
divider); lines of JSON go out: how far it is, rows, what the file was taken for, or
why it is refused.  Imports neither Django nor anything else that is large.
"""

import json
import sys
from collections.abc import Iterator
from typing import Any, BinaryIO

from inventory.compute.file_refusals import WhyNoTable
from inventory.files import limits
from inventory.files.marks import Mark, MarkedCell
from inventory.files.refused import (
    EmptyFileError,
    FileRefusedError,
    LockedWorkbookError,
    NotATableFileError,
    ReadingStoppedError,
    TooMuchTextError,
)
from inventory.files.text import decode, find_divider, read_objects, read_text_rows
from inventory.files.workbooks import marks_of, open_sheet, rows_of

Message = dict[str, Any]

_PACKED = b"PK"
_BEFORE_2007 = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ROWS_A_MESSAGE = 1_000


def messages_of(
    content: bytes, *, sheet: str = "", divider: str = ""
) -> Iterator[Message]:
    """Read a file: messages of rows, then one that says what it was taken for."""
    if not content.strip(b"\0 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise EmptyFileError(WhyNoTable.EMPTY)
    if content.startswith(_BEFORE_2007):
        raise LockedWorkbookError(WhyNoTable.OLD_OR_LOCKED)
    if content.startswith(_PACKED):
        yield from _workbook(content, sheet)
    else:
        yield from _text(content, sheet, divider)


def _workbook(content: bytes, wanted: str) -> Iterator[Message]:
    yield {"reading": 0, "of": 0}
    opened = open_sheet(content, wanted=wanted)
    yield from _rows(rows_of(opened), total=opened.size.rows)
    for marked in marks_of(opened):
        yield {"mark": [marked.row, marked.column, marked.mark]}
    facts = {"form": "XLSX", "sheet": opened.sheet.name, "sheets": opened.names}
    yield {"facts": facts}


def _text(content: bytes, sheet: str, wanted: str) -> Iterator[Message]:
    text, encoding = decode(content)
    if not text.strip():
        raise EmptyFileError(WhyNoTable.EMPTY)
    if text.lstrip()[:1] in {"[", "{"}:
        objects = read_objects(text, sheet)
        yield from _rows(objects.rows, total=0)
        named = {"sheet": objects.name, "sheets": objects.names}
        yield {"facts": {"form": "JSON", "encoding": encoding, **named}}
        return
    divider = wanted or find_divider(text)
    yield from _rows(read_text_rows(text, divider), total=text.count("\n") + 1)
    yield {"facts": {"form": "CSV", "encoding": encoding, "divider": divider}}


def _rows(rows: Iterator[list[str]], *, total: int) -> Iterator[Message]:
    held: list[list[str]] = []
    characters = cells = 0
    for number, row in enumerate(rows):
        for column, cell in enumerate(row):
            if len(cell) > limits.CELL_CHARACTERS:
                row[column] = cell[: limits.CELL_CHARACTERS]
                yield {"mark": [number, column, Mark.LONG]}
            characters += len(row[column])
        cells += len(row)
        if cells > limits.CELLS or characters > limits.CHARACTERS:
            raise TooMuchTextError(WhyNoTable.MUCH_TEXT, row=f"{number + 1:,}")
        held.append(row)
        if len(held) == _ROWS_A_MESSAGE:
            yield {"rows": held, "reading": number + 1, "of": total}
            held = []
    yield {"rows": held, "reading": total, "of": total}


def marked_cell(triple: list[Any]) -> MarkedCell:
    """Read a mark as it was sent."""
    return MarkedCell(row=triple[0], column=triple[1], mark=Mark(triple[2]))


def answer(source: BinaryIO) -> Iterator[Message]:
    """Read the request and the bytes behind it; a refusal is the last message."""
    wanted = json.loads(source.readline())
    try:
        yield from messages_of(source.read(), **wanted)
    except FileRefusedError as refused:
        yield _refused(refused)
    except MemoryError:
        yield _refused(ReadingStoppedError(WhyNoTable.MEMORY))
    except BaseException as error:
        kind = type(error).__name__
        yield _refused(NotATableFileError(WhyNoTable.NO_TABLE, kind=kind))


def _refused(refused: FileRefusedError) -> Message:
    return {"refused": refused.code, "why": refused.why, "found": refused.found}


def cap_process() -> None:
    """Cap memory and time, where the system can: not on Windows."""
    try:
        import resource  # noqa: PLC0415
    except ImportError:
        return
    caps = {
        resource.RLIMIT_AS: limits.CHILD_MEMORY_BYTES,
        resource.RLIMIT_CPU: limits.CHILD_CPU_S,
        resource.RLIMIT_CORE: 0,
        resource.RLIMIT_FSIZE: 0,
    }
    for cap, most in caps.items():
        try:
            resource.setrlimit(cap, (most, most))
        except (OSError, ValueError):
            continue  # one that this system does not keep; the others hold


def main() -> None:
    """Answer one request."""
    cap_process()
    for message in answer(sys.stdin.buffer):
        sys.stdout.write(json.dumps(message, separators=(",", ":")) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
