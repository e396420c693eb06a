"""A gauge study as pasted rows: part, person, trial, value."""

import csv
from typing import ClassVar

import numpy as np
from django.utils.translation import gettext as _
from numpy.typing import NDArray

from inventory.compute.errors import ComputeError
from inventory.compute.numbers import Unit, parse_reading
from inventory.words.numbers import error_words

MOST_ROWS = 5_000


class StudyTableError(ComputeError):
    """Pasted rows are no full table of parts, people and trials."""

    code: ClassVar[str] = "study_table"


def read_study(text: str, *, unit: Unit) -> NDArray[np.float64]:
    """
    Read pasted rows into a (parts, people, trials) array.

    Columns are divided by tab, semicolon or comma; a first row whose last cell
    is no number is a heading; one that begins with # is a remark.  StudyTableError
    names the row that is wrong.
    """
    rows = _rows(text)
    parts = list(dict.fromkeys(row[0] for row in rows))
    people = list(dict.fromkeys(row[1] for row in rows))
    trials = list(dict.fromkeys(row[2] for row in rows))
    table = np.full((len(parts), len(people), len(trials)), np.nan)
    for number, row in enumerate(rows, 1):
        place = parts.index(row[0]), people.index(row[1]), trials.index(row[2])
        if not np.isnan(table[place]):
            msg = _("Row %(number)s: %(what)s stands twice.") % {
                "number": number,
                "what": " ".join(row[:3]),
            }
            raise StudyTableError(msg)
        table[place] = _value(number, row[3], unit)
    return table


def _rows(text: str) -> list[list[str]]:
    lines = [
        line for line in text.splitlines() if line.strip() and not line.startswith("#")
    ]
    if not lines or len(lines) > MOST_ROWS:
        msg = _("%(n)s rows; from one to %(most)s are read.") % {
            "n": len(lines),
            "most": MOST_ROWS,
        }
        raise StudyTableError(msg)
    # A comma divides only where neither tab nor semicolon does: it may be a decimal.
    divider = next((sign for sign in "\t;" if sign in lines[0]), ",")
    rows = [
        [cell.strip() for cell in row] for row in csv.reader(lines, delimiter=divider)
    ]
    for number, row in enumerate(rows, 1):
        if len(row) != 4:
            msg = _(
                "Row %(number)s: %(n)s columns; part, person, trial, value are 4."
            ) % {"number": number, "n": len(row)}
            raise StudyTableError(msg)
    heading = not any(sign.isdigit() for sign in rows[0][3])
    return rows[1:] if heading else rows


def _value(number: int, text: str, unit: Unit) -> float:
    try:
        return parse_reading(text, unit=unit).value
    except ComputeError as error:
        msg = _("Row %(number)s: %(why)s") % {
            "number": number,
            "why": error_words(error),
        }
        raise StudyTableError(msg) from error
