"""
Labels for bags and drawers: a QR code, what the part is chosen by, its tag, and words.

What decides is the largest: it is read at arm's length over an open drawer.
Millimetres, black on white.  A page lays as many as fit on the paper it has.
"""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from inventory.drawing.codes import code_path

WIDTH_MM, HEIGHT_MM = 60.0, 29.0
CODE_MM = 25.0
_MARGIN = 2.0
_TEXT_X = _MARGIN + CODE_MM + 1.5
#: Letters that fit beside the code at each size of lettering.
_FIGURE_LETTERS, _TAG_LETTERS, _HEAD_LETTERS, _LINE_LETTERS = 16, 8, 13, 18
#: Down to where lines may go, and from one to the next.
_LOWEST, _STEP = 28.0, 3.3


@dataclass(frozen=True, kw_only=True)
class Label:
    """What one label says; the address is what its code holds."""

    tag: str
    address: str
    heading: str
    figure: str = ""
    lines: Sequence[str] = ()


def draw_label(label: Label) -> str:
    """Draw one label in its true size."""
    path, modules = code_path(label.address)
    top = (HEIGHT_MM - CODE_MM) / 2
    scale = CODE_MM / modules
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="label" role="img" '
        f'width="{WIDTH_MM:g}mm" height="{HEIGHT_MM:g}mm" '
        f'viewBox="0 0 {WIDTH_MM:g} {HEIGHT_MM:g}" '
        'font-family="system-ui, sans-serif">'
        f"<title>{escape(f'{label.tag}: {label.heading}')}</title>"
        f'<path fill="#fff" d="M0 0h{WIDTH_MM:g}v{HEIGHT_MM:g}H0z"/>'
        f'<path fill="#000" shape-rendering="crispEdges" '
        f'transform="translate({_MARGIN:g} {top:g}) scale({scale:.5f})" d="{path}"/>'
        f'<g fill="#000">{"".join(_words(label))}</g></svg>'
    )


def _words(label: Label) -> list[str]:
    rows = []
    y, tag_size = 7.4, 5.4
    if label.figure:
        rows.append(_text(6.6, 5.6, _fitted(label.figure, _FIGURE_LETTERS), bold=True))
        y, tag_size = 11.6, 4.4
    rows.append(_text(y, tag_size, _fitted(label.tag, _TAG_LETTERS), bold=True))
    y += 4.4
    rows.append(_text(y, 3.4, _fitted(label.heading, _HEAD_LETTERS), bold=True))
    y += 0.5
    lines = [
        part
        for line in label.lines
        if line != label.figure
        for part in textwrap.wrap(line, _LINE_LETTERS) or [""]
    ]
    room = int((_LOWEST - y) / _STEP)
    if len(lines) > room:
        lines = [*lines[: room - 1], lines[room - 1] + "…"]
    for index, line in enumerate(lines, 1):
        rows.append(_text(y + index * _STEP, 2.9, line, bold=False))
    return rows


def _fitted(words: str, letters: int) -> str:
    return words if len(words) <= letters else words[: letters - 1] + "…"


def _text(y: float, size: float, words: str, *, bold: bool) -> str:
    weight = ' font-weight="600"' if bold else ""
    return (
        f'<text x="{_TEXT_X:g}" y="{y:g}" font-size="{size:g}"{weight}'
        f"{_squeezed(words, size)}>{escape(words)}</text>"
    )


def _squeezed(words: str, size: float) -> str:
    """Hold words of wide letters to the label's edge."""
    room = WIDTH_MM - _TEXT_X - _MARGIN
    width = sum(0.82 if each.isupper() else 0.6 for each in words) * size
    if width <= room:
        return ""
    return f' textLength="{room:g}" lengthAdjust="spacingAndGlyphs"'
