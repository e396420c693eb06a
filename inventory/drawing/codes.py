"""
QR codes: black on white whatever the theme, with the quiet zone of the standard.

An address in capitals and digits alone is written in a denser mode, so the code
stays small enough for a label; the club's addresses for tags are made so.
"""

from collections.abc import Iterable
from itertools import groupby
from xml.sax.saxutils import escape, quoteattr

import segno

#: Modules left white on every side (ISO/IEC 18004).
QUIET = 4


def draw_code(address: str, *, words: str) -> str:
    """Draw an address as a QR code; ``words`` say what it leads to."""
    path, size = code_path(address)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="code" role="img" '
        f'aria-label={quoteattr(words)} viewBox="0 0 {size} {size}" '
        f'shape-rendering="crispEdges"><title>{escape(words)}</title>'
        f'<path fill="#fff" d="M0 0h{size}v{size}H0z"/>'
        f'<path fill="#000" d="{path}"/></svg>'
    )


def code_path(address: str) -> tuple[str, int]:
    """Give the dark modules as one path, and the side with its quiet zone."""
    code = segno.make(address, error="m", micro=False)
    rows = [list(row) for row in code.matrix_iter(border=QUIET)]
    return "".join(_runs(rows)), len(rows)


def _runs(rows: list[list[int]]) -> Iterable[str]:
    for y, row in enumerate(rows):
        x = 0
        for dark, run in groupby(row):
            length = len(list(run))
            if dark:
                yield f"M{x} {y}h{length}v1h-{length}z"
            x += length
