"""
The margin strip: what a rule finds of a car, in one line.

Above the line is inside, under it outside; solid is sure, hollow is too near to the
limit to be sure.  The limit is a bracket that opens to the side that is allowed, the
guard band about it is hatched, and the pointer is as wide as the doubt, ±u.  Colour
adds that the car is refused, and says nothing else.

The scale belongs to the rule and not to the car, so that strips of one rule compare.
What is too far away stands in a pocket beyond a cut.  Where a width is the least that
can be seen, the pointer keeps the side of limit and guard band that its outcome says.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from xml.sax.saxutils import escape, quoteattr

from django.utils.translation import gettext as _

from inspection.compute.judging import Outcome
from inspection.drawing.strips.scale import (
    BASE,
    HEIGHT,
    WIDTH,
    Guards,
    Scale,
    Tip,
    scale_of,
)
from inventory.compute.numbers import decimals_beside, exact_decimals
from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Point, pixels

#: The pointer: its tip off the line, its point and its body, and its least half width.
OFF, POINT, BODY, LEAST_HALF = 2.4, 4.0, 7.0, 4.0
#: Above and below the strip, for figures of 9 units.
FIGURE_ROW = 11.0
SLAB, TORN, SLAB_END = 6.0, 3.0, 14.0
#: Where a looked-at rule has its two answers: from, to.
ANSWERS = {False: (34.0, 74.0), True: (126.0, 166.0)}
_UNDER = frozenset({Outcome.CONDITIONAL_FAIL, Outcome.FAIL})
_HOLLOW = frozenset({Outcome.CONDITIONAL_PASS, Outcome.CONDITIONAL_FAIL})


@dataclass(frozen=True, kw_only=True)
class Margin:
    """
    What a strip shows, in the rule's unit.

    Attributes
    ----------
    outcome : Outcome
        Of the rule on this car.
    lower, upper : float or None
        The limits; of an answer that is asked, neither.
    value : float or None
        What was found; None is not measured.
    u : float
        Standard uncertainty of the value; 0 where something was counted.
    guard_band : float
        Width of doubt on either side of a limit.
    ordinary_guard : float
        The same of an ordinary reading under this rule, by which the scale is laid.
    went_under : bool or None
        Of one slip that was tried: whether it went; the value is its size.
    half_width : float or None
        Of two slips: half of what lies between them.
    required : bool or None
        The answer that is asked of something looked at.
    is_refused : bool
        Whether the car is refused for it.
    is_binding : bool
        Whether the limit binds; advice is drawn broken and never in the accent.
    """

    outcome: Outcome
    lower: float | None = None
    upper: float | None = None
    value: float | None = None
    u: float = 0.0
    guard_band: float = 0.0
    ordinary_guard: float = 0.0
    went_under: bool | None = None
    half_width: float | None = None
    required: bool | None = None
    is_refused: bool = False
    is_binding: bool = True

    @property
    def is_known(self) -> bool:
        """Whether there is something to point at."""
        return self.value is not None and self.outcome is not Outcome.NOT_MEASURED


def draw_margin_strip(
    margin: Margin, *, words: str = "", places: int | None = None
) -> str:
    """
    Draw the strip of one finding.

    Without ``words`` it stands beside the same in words and is hidden from those who
    listen; alone it needs words that say value, limit and margin.  With ``places``,
    where it is wide, its figures stand at it: limits under their brackets, the value
    over the pointer, to that many decimals at least.
    """
    top, high = 0.0, HEIGHT
    if margin.outcome is Outcome.NOT_APPLICABLE:
        inside: Iterator[str] = _not_applicable()
    elif margin.required is not None:
        inside = _answer(margin, asked=margin.required)
    else:
        inside = _limited(margin)
        if places is not None:
            top, high = -FIGURE_ROW, HEIGHT + 2 * FIGURE_ROW
            inside = chain(inside, _figures(margin, places))
    attributes = (
        f'role="img" aria-label={quoteattr(words)}' if words else 'aria-hidden="true"'
    )
    box = f"0 {pixels(top)} {pixels(WIDTH)} {pixels(high)}"
    return (
        f'<svg class="strip" {attributes} viewBox="{box}" fill="none" '
        ' stroke="currentColor" stroke-width="1.25">'
        f"{''.join(inside)}</svg>"
    )


def _path(kind: str, steps: str, attributes: str = "") -> str:
    return f'<path class="s-{kind}"{attributes} d="{steps}"/>' if steps else ""


def _across(start: float, end: float, y: float = BASE) -> str:
    return f"M{pixels(start)} {pixels(y)}H{pixels(end)}"


def _polygon(points: list[Point]) -> str:
    return "M" + "L".join(f"{pixels(x)} {pixels(y)}" for x, y in points) + "z"


def _not_applicable() -> Iterator[str]:
    yield _path("off", f"{_across(0, WIDTH)}M92 21L108 7")


def _limited(margin: Margin) -> Iterator[str]:
    scale = scale_of(margin.lower, margin.upper, margin.ordinary_guard)
    if scale is None:
        yield from _not_applicable()
        return
    value = margin.value if margin.is_known else None
    band = margin.ordinary_guard if value is None else margin.guard_band
    guards = scale.guards(band, margin.outcome, value)
    tip = None
    if value is not None:
        # The limit's own slip was tried at the limit: there is no band between.
        beside = guards if margin.went_under is None else Guards()
        tip = scale.tip(value, margin.outcome, beside)
    cuts = [*scale.cuts, *([tip.cut] if tip and tip.cut is not None else [])]
    yield from _base(scale, is_known=value is not None)
    for limit in scale.limits:
        lines = "".join(_hatch(*limit.band(guards)))
        yield _path("hatch", lines, ' stroke-width="1"')
    yield from _cut(cuts)
    yield from _brackets([(one.at, one.opens_right) for one in scale.limits], margin)
    if tip is not None:
        yield _in_its_colour(margin, _found(margin, scale, tip))


def _figures(margin: Margin, places: int) -> Iterator[str]:
    """Write the limits under their brackets and the value over its pointer."""
    scale = scale_of(margin.lower, margin.upper, margin.ordinary_guard)
    if scale is None:
        return
    known = [one for one in (margin.lower, margin.upper) if one is not None]
    for limit, number in zip(scale.limits, known, strict=True):
        shown = shown_number(number, exact_decimals(number, least=places))
        yield _figure(limit.at, HEIGHT + FIGURE_ROW - 3, shown)
    if margin.value is not None and margin.is_known:
        guards = scale.guards(margin.guard_band, margin.outcome, margin.value)
        tip = scale.tip(margin.value, margin.outcome, guards)
        decimals = decimals_beside(margin.value, known, decimals=places)
        yield _figure(tip.at, -3, shown_number(margin.value, decimals), kind="value")


def _figure(x: float, y: float, shown: str, *, kind: str = "limit") -> str:
    anchor = "start" if x < 20 else "end" if x > WIDTH - 20 else "middle"
    weight = "650" if kind == "value" else "400"
    return (
        f'<text class="s-figure s-figure-{kind}" x="{pixels(x)}" y="{pixels(y)}" '
        f'text-anchor="{anchor}" font-size="9" font-weight="{weight}" '
        f'fill="currentColor" stroke="none">{escape(shown)}</text>'
    )


def _in_its_colour(margin: Margin, elements: Iterator[str]) -> str:
    is_red = margin.is_refused and margin.is_binding
    return f'<g class="s-found{" s-refused" if is_red else ""}">{"".join(elements)}</g>'


def _base(scale: Scale, *, is_known: bool) -> Iterator[str]:
    """Draw the line: thin where it is refused, thick where it is allowed."""
    start, end = scale.allowed
    thin = (_across(0, start) if start > 0 else "") + (
        _across(end, WIDTH) if end < WIDTH else ""
    )
    dashes = "" if is_known else ' stroke-dasharray="5 4"'
    unknown = "" if is_known else " unknown"
    yield _path(f"line{unknown}", thin, dashes)
    width = "3.5" if is_known else "2"
    thick = f' stroke-width="{width}"{dashes}'
    yield _path(f"way{unknown}", _across(start, end), thick)


def _hatch(low: float, high: float) -> Iterator[str]:
    """Draw lines at 45°: a pattern would turn grey on paper."""
    # On one grid whatever the limit: two bands that meet are hatched as one.
    at = 4 * math.ceil((low - 12) / 4)
    while at < high:
        start, end = max(0.0, low - at), min(12.0, high - at)
        if end > start:
            yield (
                f"M{pixels(at + start)} {pixels(BASE + 6 - start)}"
                f"L{pixels(at + end)} {pixels(BASE + 6 - end)}"
            )
        at += 4


def _brackets(places: list[tuple[float, bool]], margin: Margin) -> Iterator[str]:
    """Draw limits: brackets that open to the allowed side; advice is a broken tick."""
    if not margin.is_binding:
        ticks = "".join(f"M{pixels(at)} 2V26" for at, _opens_right in places)
        broken = ' stroke-width="1.5" stroke-dasharray="3 2.5"'
        yield _path("limit advice", ticks, broken)
        return
    brackets = ""
    for at, opens_right in places:
        serif = pixels(at + (5 if opens_right else -5))
        brackets += f"M{serif} 2H{pixels(at)}V26H{serif}"
    yield _path("limit", brackets, ' stroke-width="2"')


def _cut(places: list[float]) -> Iterator[str]:
    """Draw where the line is cut: two strokes, and paper between."""
    gaps = "".join(_polygon([(x - 5, 20), (x, 8), (x + 5, 8), (x, 20)]) for x in places)
    strokes = "".join(
        f"M{pixels(x + off - 2.5)} 20L{pixels(x + off + 2.5)} 8"
        for x in places
        for off in (-2.5, 2.5)
    )
    yield _path("gap", gaps, ' stroke="none"')
    yield _path("cut", strokes)


def _found(margin: Margin, scale: Scale, tip: Tip) -> Iterator[str]:
    is_under, is_hollow = margin.outcome in _UNDER, margin.outcome in _HOLLOW
    if margin.went_under is not None:
        yield from _slab(
            tip.at, to_right=margin.went_under, is_under=is_under, is_hollow=is_hollow
        )
        return
    if margin.outcome is Outcome.FAIL:
        start, end = sorted((scale.nearest(tip.at), tip.at))
        yield (
            f'<rect class="s-short" x="{pixels(start)}" y="{pixels(BASE - 3)}" '
            f'width="{pixels(end - start)}" height="6" fill="currentColor" '
            'stroke="none"/>'
        )
        # The shortfall goes on beyond the cut, and the cut is still seen.
        yield from _cut([] if tip.cut is None else [tip.cut])
    doubt = margin.u if margin.half_width is None else margin.half_width
    half = min(tip.room, max(LEAST_HALF, scale.length(doubt)))
    yield from _pointer(tip.at, half, is_under=is_under, is_hollow=is_hollow)


def _pointer(
    tip: float, half: float, *, is_under: bool, is_hollow: bool
) -> Iterator[str]:
    way = 1 if is_under else -1
    top, shoulder = BASE + way * OFF, BASE + way * (OFF + POINT)
    end = BASE + way * (OFF + POINT + BODY)
    outline = _polygon(
        [
            (tip, top),
            (tip + half, shoulder),
            (tip + half, end),
            (tip - half, end),
            (tip - half, shoulder),
        ]
    )
    yield from _shape(outline, is_hollow=is_hollow)


def _slab(
    start: float, *, to_right: bool, is_under: bool, is_hollow: bool
) -> Iterator[str]:
    """Draw what one slip says: from its size on, how far is not known."""
    end = WIDTH - SLAB_END if to_right else SLAB_END
    if abs(end - start) < 3 * TORN:
        end = start + 3 * TORN * (1 if to_right else -1)
    bite = -TORN if to_right else TORN
    low = BASE if is_under else BASE - SLAB
    torn = [(end if n % 2 == 0 else end + bite, low + SLAB * n / 3) for n in range(4)]
    outline = _polygon([(start, low), *torn, (start, low + SLAB)])
    yield from _shape(outline, is_hollow=is_hollow)


def _shape(outline: str, *, is_hollow: bool) -> Iterator[str]:
    """Draw a shape with a rim of paper, so that it stands before what it crosses."""
    yield _path("halo", outline, ' stroke-width="4.5" stroke-linejoin="round"')
    fill = "" if is_hollow else ' fill="currentColor"'
    kind = "tip hollow" if is_hollow else "tip"
    yield _path(kind, outline, f'{fill} stroke-width="1.5" stroke-linejoin="round"')


def _answer(margin: Margin, *, asked: bool) -> Iterator[str]:
    """Draw the two answers, "no" always left: the asked-for one thick and bracketed."""
    dashes = "" if margin.is_known else ' stroke-dasharray="5 4"'
    unknown = "" if margin.is_known else " unknown"
    wanted, other = ANSWERS[asked], ANSWERS[not asked]
    yield _path(f"line{unknown}", _across(*other), dashes)
    width = "3.5" if margin.is_known else "2"
    thick = f' stroke-width="{width}"{dashes}'
    yield _path(f"way{unknown}", _across(*wanted), thick)
    start, end = wanted
    yield from _brackets([(start, True), (end, False)], margin)
    for x, anchor, word in ((26, "end", _("no")), (174, "start", _("yes"))):
        yield (
            f'<text class="s-word" x="{x}" y="18" text-anchor="{anchor}" '
            f'font-size="11" fill="currentColor" stroke="none">{escape(word)}</text>'
        )
    if margin.is_known:
        seen = ANSWERS[bool(margin.value)]
        is_under = margin.outcome in _UNDER
        pointer = _pointer(sum(seen) / 2, 4.5, is_under=is_under, is_hollow=False)
        yield _in_its_colour(margin, pointer)
