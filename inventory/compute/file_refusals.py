"""
Why a file is no table that is read: the English of each reason, and what it found.

The reason is found in a process that knows no language; it is looked up by this
English where somebody reads it.
"""

from enum import StrEnum

from inventory.compute.errors import ComputeError


class WhyNoTable(StrEnum):
    """What a file is refused for; what is found goes in by its name."""

    EMPTY = "The file is empty."
    EMPTY_SHEETS = "The workbook's sheets are empty."
    NO_SHEETS = "The workbook has no sheet."
    LARGE = "The file has more than %(most)s MB; split it."
    OLD_OR_LOCKED = (
        "The workbook is locked with a password, or of the form of before 2007; save "
        "it as XLSX without a password."
    )
    LOCKED = "The workbook's members are locked with a password."
    DAMAGED = "The file says that it is a workbook, but it cannot be read as one."
    MACROS = "The workbook carries macros; save it as XLSX, without them."
    MACRO_TYPE = "The workbook is of the kind with macros; save it as XLSX."
    MANY_MEMBERS = "The workbook has %(count)s members; at most %(most)s."
    UNPACKS_TO_MUCH = "The workbook unpacks to more than %(most)s MB; it is not read."
    UNPACKS_DENSELY = (
        "A member of the workbook unpacks to more than %(most)s times its weight; it "
        "is not read."
    )
    NO_SUCH_SHEET = "The workbook has no sheet “%(wanted)s”."
    NO_SUCH_LIST = "The file has no list “%(wanted)s”."
    FAR_APART = "The sheet's cells lie too far apart; put them together in one table."
    MANY_ROWS = "The file has more than %(most)s rows; split it."
    ROW_BEYOND = "The sheet has a cell in row %(row)s; at most %(most)s rows."
    MANY_COLUMNS = "Row %(row)s has %(count)s columns; at most %(most)s."
    COLUMN_BEYOND = "Row %(row)s has a cell in column %(column)s; at most %(most)s."
    MANY_CELLS = "The sheet has more than %(most)s cells; split it."
    MUCH_TEXT = "Up to row %(row)s there is more in it than is read; split it."
    QUOTE = "Line %(line)s: a quote is not closed, or text follows it."
    NO_JSON = "The file begins as JSON does, and is none."
    NO_OBJECTS = "The JSON is no list of objects; expected one for each part."
    ENCODING = (
        "The file's text is in no encoding that is read here; save it as UTF-8 (CSV "
        "UTF-8 in a spreadsheet's list)."
    )
    NO_TEXT = "The file is no text in columns: it holds signs that no text has."
    WEB_PAGE = "The file is a web page; save the table itself as CSV or XLSX."
    NO_TABLE = "The file cannot be read as a table (%(kind)s)."
    MEMORY = "The file needs more memory to read than it is given; it is not read."
    TIME = (
        "The file takes more time or memory to read than it is given; it is not read."
    )


class NoTableError(ComputeError):
    """
    A file is no table that is read.

    Parameters
    ----------
    why : WhyNoTable
        The reason.
    **found : str
        What goes into its sentence.

    Examples
    --------
    >>> str(NoTableError(WhyNoTable.LARGE, most="20"))
    'The file has more than 20 MB; split it.'
    """

    def __init__(self, why: WhyNoTable, **found: str) -> None:
        super().__init__(str(why) % found)
        self.why, self.found = why, found
