"""
A file of columns, read in a process of its own and given back as rows of text.

What the file may weigh is checked before, what it holds while it is read; a file
that kills its reader is refused like any other.
"""

import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

import inventory
from inventory.compute.file_refusals import WhyNoTable
from inventory.files import limits
from inventory.files.child import Message, marked_cell
from inventory.files.marks import FileFacts, Mark
from inventory.files.refused import (
    EmptyFileError,
    LargeFileError,
    ReadingStoppedError,
    refusal,
)

Progress = Callable[[int, int], None]

#: How the reading process is started: by itself, without the site's own settings.
COMMAND = (sys.executable, "-E", "-s", "-B", "-m", "inventory.files.child")

_ROOT = Path(inventory.__file__).resolve().parents[1]
#: A child needs of its surroundings what Python itself does to start.
_KEPT = ("SYSTEMROOT", "LD_LIBRARY_PATH", "PATH")


@dataclass(frozen=True, kw_only=True)
class Table:
    """Rows of text as the file has them, from its first; marks by row and column."""

    rows: list[list[str]]
    facts: FileFacts
    marks: Mapping[tuple[int, int], Mark] = field(
        default_factory=lambda: MappingProxyType({})
    )

    @property
    def width(self) -> int:
        """The columns of the widest row."""
        return max(map(len, self.rows), default=0)


def read_table(
    content: bytes,
    *,
    sheet: str = "",
    divider: str = "",
    on_progress: Progress = lambda done, total: None,
) -> Table:
    """
    Read a file; ``on_progress`` hears how many rows of how many are read.

    Raises FileRefusedError, a class of it for each reason.  What ``on_progress``
    raises ends the reading.
    """
    if not content:
        raise EmptyFileError(WhyNoTable.EMPTY)
    if len(content) > limits.BYTES:
        most = str(limits.BYTES // limits.MIB)
        raise LargeFileError(WhyNoTable.LARGE, most=most)
    request = json.dumps({"sheet": sheet, "divider": divider}).encode() + b"\n"
    rows: list[list[str]] = []
    marks: dict[tuple[int, int], Mark] = {}
    for message in _messages(request + content):
        if "refused" in message:
            raise refusal(message["refused"], message["why"], message["found"])
        rows += message.get("rows", [])
        if "mark" in message and len(marks) < limits.MARKED_CELLS:
            marked = marked_cell(message["mark"])
            marks[marked.row, marked.column] = marked.mark
        if "reading" in message:
            on_progress(message["reading"], message["of"])
        if "facts" in message:
            return Table(
                rows=_without_ends(rows),
                facts=FileFacts(**message["facts"]),
                marks=marks,
            )
    raise ReadingStoppedError(WhyNoTable.TIME)


def _messages(order: bytes) -> Iterator[Message]:
    child = subprocess.Popen(  # noqa: S603 - a fixed command, the file is its input
        COMMAND,
        cwd=_ROOT,
        env={name: os.environ[name] for name in _KEPT if name in os.environ},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    # The processor's time is capped in the child; this caps the clock's.
    clock = threading.Timer(limits.CHILD_WALL_S, child.kill)
    clock.start()
    try:
        yield from _exchange(child, order)
    finally:
        clock.cancel()
        child.kill()
        child.wait()


def _exchange(child: "subprocess.Popen[bytes]", order: bytes) -> Iterator[Message]:
    with child:
        source, answers = child.stdin, child.stdout
        if source is None or answers is None:
            return
        try:
            source.write(order)
            source.close()
        except BrokenPipeError:
            return  # it ended before it had read; there is no answer
        for line in answers:
            yield _message(line)


def _message(line: bytes) -> Message:
    try:
        message: Any = json.loads(line)
    except ValueError:
        return {}  # a line cut off by the end of the process
    return message if isinstance(message, dict) else {}


def _without_ends(rows: list[list[str]]) -> list[list[str]]:
    """Leave out the empty rows at the foot; those above keep the numbers right."""
    while rows and not any(cell.strip() for cell in rows[-1]):
        rows.pop()
    return rows
