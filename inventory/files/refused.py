"""
Why a file is not taken: one class per reason.

The reason is found where the file is read, which may be another process; its code
finds the class again, and its English the sentence.
"""

from collections.abc import Mapping
from typing import ClassVar

from inventory.compute.file_refusals import NoTableError, WhyNoTable


class FileRefusedError(NoTableError):
    """A file is no table of parts; nothing of it was kept."""

    code: ClassVar[str] = "file_refused"


class EmptyFileError(FileRefusedError):
    """There is nothing in it."""

    code: ClassVar[str] = "empty_file"


class NotATableFileError(FileRefusedError):
    """It is neither text in columns nor a workbook."""

    code: ClassVar[str] = "not_a_table"


class EncodingError(FileRefusedError):
    """Its text is in none of the encodings that are read."""

    code: ClassVar[str] = "encoding"


class QuotesError(FileRefusedError):
    """A quote is opened and not closed, or something follows the closing one."""

    code: ClassVar[str] = "quotes"


class LargeFileError(FileRefusedError):
    """It has more bytes than are read."""

    code: ClassVar[str] = "large_file"


class PackedBombError(FileRefusedError):
    """It unpacks to far more than it weighs."""

    code: ClassVar[str] = "packed_bomb"


class TooManyRowsError(FileRefusedError):
    """It has more rows than are read."""

    code: ClassVar[str] = "too_many_rows"


class TooManyColumnsError(FileRefusedError):
    """It has more columns than are read."""

    code: ClassVar[str] = "too_many_columns"


class TooMuchTextError(FileRefusedError):
    """Its cells, or what is written in them, are more than are read."""

    code: ClassVar[str] = "too_much_text"


class MacrosError(FileRefusedError):
    """It carries programs."""

    code: ClassVar[str] = "macros"


class LockedWorkbookError(FileRefusedError):
    """It is locked with a password, or in the form of before 2007."""

    code: ClassVar[str] = "locked_workbook"


class DamagedWorkbookError(FileRefusedError):
    """It says that it is a workbook, and cannot be read as one."""

    code: ClassVar[str] = "damaged_workbook"


class NoSuchSheetError(FileRefusedError):
    """It has no sheet of that name."""

    code: ClassVar[str] = "no_such_sheet"


class ReadingStoppedError(FileRefusedError):
    """Reading it took more time or memory than it is given."""

    code: ClassVar[str] = "reading_stopped"


REASONS: dict[str, type[FileRefusedError]] = {
    each.code: each for each in FileRefusedError.__subclasses__()
}


def refusal(code: str, why: str, found: Mapping[str, str]) -> FileRefusedError:
    """Make the refusal of a code that another process found."""
    return REASONS.get(code, FileRefusedError)(WhyNoTable(why), **found)
