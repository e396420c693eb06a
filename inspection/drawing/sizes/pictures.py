"""
A car with the sizes that a form asks for; the field in hand lights its size.

Each size is a group with the names of the fields that it answers to in
``data-size``; dimensions as in ISO 129, pixels of the view box.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Final
from xml.sax.saxutils import escape, quoteattr

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext_lazy as _

from inspection.drawing.sizes.table import SIZES, WIDTH, Size, View, view_of

_ARROW, _HALF = 8, 2.4
#: How wide a letter comes out, on the wide side.
_LETTER: Final = 7.5
#: So near to the edge of the picture words have no room beside a line.
_SIDE: Final = 60
_HEIGHT: Final = {View.BEHIND: 318, View.SIDE: 280, View.ABOVE: 308}
#: The highest and the lowest edge of the car in each view.
_EDGES: Final = {View.BEHIND: (86, 218), View.SIDE: (84, 204), View.ABOVE: (34, 242)}
_TITLES: Final = {
    View.BEHIND: _("From behind"),
    View.SIDE: _("From the left side"),
    View.ABOVE: _("From above, nose down"),
}


def drawings_of(names: Iterable[str], *, lit: Collection[str] = ()) -> list[SafeString]:
    """Give the drawings of a car on which the sizes of some fields are."""
    asked = frozenset(names)
    seen = {view_of(name) for name in asked}
    return [
        mark_safe(draw_sizes(view, asked, lit=lit))  # noqa: S308
        for view in View
        if view in seen
    ]


def draw_sizes(view: View, asked: Collection[str], *, lit: Collection[str] = ()) -> str:
    """
    Draw the car from one side, with the sizes that are asked for.

    Parameters
    ----------
    view : View
        From where.
    asked : collection of str
        Names of fields; a size that none of them asks for is left out.
    lit : collection of str, optional
        The fields in hand, whose sizes are drawn heavy.

    Returns
    -------
    str
        An SVG; what it shows stands in its label.
    """
    asked_for = frozenset(asked)
    sizes = [s for s in SIZES if s.view is view and set(s.names) & asked_for]
    title = str(_TITLES[view])
    words = ", ".join(dict.fromkeys(str(size.label) for size in sizes))
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="draw" role="img" '
        f'data-view="{view}" '
        f"aria-label={quoteattr(f'{title}: {words}')} "
        f'viewBox="0 0 {WIDTH} {_HEIGHT[view]}">'
        f'<text class="size-view" x="4" y="{_HEIGHT[view] - 6}">{escape(title)}</text>'
        f"{_CARS[view]}{''.join(_drawn(size, lit) for size in sizes)}</svg>"
    )


def _drawn(size: Size, lit: Collection[str]) -> str:
    names = " ".join(size.names)
    state = "" if set(size.names).isdisjoint(lit) else " is-lit"
    paint = _paint_upright if size.is_upright else _paint_across
    return f'<g class="size{state}" data-size="{names}">{"".join(paint(size))}</g>'


def _paint_across(size: Size) -> Iterator[str]:
    (left, right), y = size.ends, size.at
    top, bottom = _EDGES[size.view]
    edge = top if y < top else bottom if y > bottom else y
    if edge != y:
        past = y + (3 if y > edge else -3)
        edges = f"M{left} {edge}V{past}M{right} {edge}V{past}"
        yield f'<path class="size-edge" d="{edges}"/>'
    yield f'<path class="size-line" d="M{left} {y}H{right}"/>'
    yield _head(left, y, -1, 0) + _head(right, y, 1, 0)
    words = escape(str(size.label))
    if len(words) * _LETTER <= right - left + 30:
        middle = (left + right) / 2
        yield f'<text x="{middle:g}" y="{y - 5}" text-anchor="middle">{words}</text>'
    elif right + len(words) * _LETTER < WIDTH - 10:
        yield f'<text x="{right + 10}" y="{y + 4}">{words}</text>'
    else:
        yield f'<text x="{left - 10}" y="{y + 4}" text-anchor="end">{words}</text>'


def _paint_upright(size: Size) -> Iterator[str]:
    (top, bottom), x = size.ends, size.at
    edges = f"M{x - 9} {top}H{x + 9}M{x - 9} {bottom}H{x + 9}"
    yield f'<path class="size-edge" d="{edges}"/>'
    is_short = bottom - top < 3 * _ARROW
    if is_short:
        # Too small for arrows inside: they point in, from outside.
        tails = f"M{x} {top - 18}V{top}M{x} {bottom}V{bottom + 18}"
        yield f'<path class="size-line" d="{tails}"/>'
        yield _head(x, top, 0, 1) + _head(x, bottom, 0, -1)
    else:
        yield f'<path class="size-line" d="M{x} {top}V{bottom}"/>'
        yield _head(x, top, 0, -1) + _head(x, bottom, 0, 1)
    y = bottom + 16 if is_short else (top + bottom) / 2 + 4
    if x < _SIDE or x > WIDTH - _SIDE:
        # No room beside the line: the words stand over it.
        y = top - 8
        anchor = "start" if x < _SIDE else "end"
        where = f'x="{6 if x < _SIDE else WIDTH - 6}" text-anchor="{anchor}"'
    else:
        where = f'x="{x + 6}"'
    yield f'<text {where} y="{y:g}">{escape(str(size.label))}</text>'


def _head(x: float, y: float, dx: int, dy: int) -> str:
    """Draw a filled head whose tip is at a place, pointing one way."""
    back_x, back_y = x - dx * _ARROW, y - dy * _ARROW
    across_x, across_y = dy * _HALF, dx * _HALF
    return (
        f'<path class="size-head" d="M{x} {y}L{back_x - across_x} {back_y + across_y}'
        f'L{back_x + across_x} {back_y - across_y}z"/>'
    )


def _ground(y: int) -> str:
    hatch = "".join(f"M{x} {y + 8}l8 -8" for x in range(2, WIDTH - 8, 12))
    return (
        f'<path class="d-hatch" d="{hatch}"/>'
        f'<path class="d-ground" d="M0 {y}H{WIDTH}"/>'
    )


_CARS: Final[Mapping[View, str]] = {
    View.BEHIND: (
        _ground(212) + '<path class="d-hidden" d="M56 130A42 42 0 0 1 140 130"/>'
        '<path class="d-tint" d="M110 198H370V205H110z"/>'
        '<path class="d-thin" d="M250 104H326V188H250z"/>'
        '<path class="d-outline" d="M66 143H414V157H66z"/>'
        '<path class="d-tint" d="M198 96H218V206H198z"/>'
        '<path class="d-rubber" d="M66 90H130V212H66zM350 90H414V212H350z"/>'
        '<path class="d-centre" d="M46 150H434M240 74V224"/>'
    ),
    View.SIDE: (
        _ground(184) + '<path class="d-tint" d="M40 168H452V176H40z"/>'
        '<path class="d-outline" d="M272 112H344V164H272z"/>'
        '<path class="d-line" d="M344 138H352"/>'
        '<path class="d-tint" d="M358 132H366V150H358zM44 158H78V168H44z"/>'
        '<path class="d-hidden" d="M48 176H74V208H48z"/>'
        '<circle class="d-rubber" cx="96" cy="144" r="40"/>'
        '<circle class="d-outline" cx="96" cy="144" r="20"/>'
        '<circle class="d-rubber" cx="396" cy="138" r="46"/>'
        '<circle class="d-outline" cx="396" cy="138" r="22"/>'
        '<circle class="d-thin" cx="96" cy="144" r="4"/>'
        '<circle class="d-thin" cx="396" cy="138" r="4"/>'
        '<path class="d-centre" d="M96 96V190M396 84V190M344 138H396"/>'
    ),
    View.ABOVE: (
        '<path class="d-hidden" d="M40 172H440"/>'
        '<path class="d-outline" d="M62 62H418V70H62z"/>'
        '<path class="d-tint" d="M150 34H162V98H150zM162 52H186V80H162z"/>'
        '<path class="d-tint" d="M204 48H216V84H204zM326 48H338V84H326z"/>'
        '<path class="d-outline" d="M216 104H326V148H216z"/>'
        '<path class="d-line" d="M140 126H216M268 104V84"/>'
        '<path class="d-tint" d="M148 116H166V136H148z"/>'
        '<path class="d-rubber" d="M62 34H114V100H62zM366 34H418V100H366z"/>'
        '<path class="d-outline" d="M80 212H400V220H80z"/>'
        '<path class="d-rubber" d="M80 190H120V242H80zM360 190H400V242H360z"/>'
        '<path class="d-centre" d="M46 66H434M240 24V250M60 216H420"/>'
    ),
}
