"""
Text that a spreadsheet would run: made harmless on the way out, and read back.

CWE-1236: a cell that begins with one of a few signs is a formula to a spreadsheet,
also behind blanks and in the full-width forms.  An apostrophe before it keeps it text.
"""

import re
from typing import Final

_RUNS: Final = re.compile(r"[\s\x00\ufeff]*[=+\-@\t\r\x00＝＋－＠−]")
_KEPT: Final = re.compile(r"'(?='*[\s\x00\ufeff]*[=+\-@\t\r\x00＝＋－＠−])")


def harmless(text: str) -> str:
    """Keep a text from being run; one that was kept so before stays distinct."""
    plain = text.lstrip("'")
    return f"'{text}" if _RUNS.match(plain) else text


def typed(text: str) -> str:
    """Give back the text that `harmless` was given."""
    return text[1:] if _KEPT.match(text) else text
