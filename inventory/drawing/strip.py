"""
Strip chart of a batch: every size on one scale, pairs linked, the rest by shape.

Whole micrometres in.  A spot is paired, a triangle is left over, a cross is
rejected.  Beyond some hundred marks nobody could tell them apart: then bars show how
many there are of each at a size.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.drawing.axes import Axis, axis_over, draw_axis_across
from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Drawing, Pen, Point, pixels

WIDTH = 640.0
LEFT, RIGHT = 26.0, 614.0
HEAD, FOOT = 40.0, 42.0
COLUMN, STEP = 9.0, 10.0
NAME_ROW = 28.0
#: More marks than this are drawn as bars.
MOST_MARKS = 400
BAR_ROOM = 84.0


@dataclass(frozen=True, kw_only=True)
class StripGroup:
    """
    One group of the batch, on a row of its own.

    ``pairs`` and ``leftover`` are positions in ``size_um``; ``rejected_um`` are the
    sizes that were not let into the pairing.
    """

    name: str
    size_um: Sequence[int]
    pairs: Sequence[tuple[int, int]] = ()
    leftover: Sequence[int] = ()
    rejected_um: Sequence[int] = ()


@dataclass(frozen=True, kw_only=True)
class Strip:
    """The groups of a batch, and the tolerance, drawn as a length."""

    groups: Sequence[StripGroup] = field(default_factory=tuple)
    tolerance_um: int = 0


def draw_strip(strip: Strip) -> str:
    """Draw the batch; as bars when there are too many marks."""
    sizes = [size for g in strip.groups for size in (*g.size_um, *g.rejected_um)]
    axis = _axis(sizes, room_mm=max(0.02, 3 * strip.tolerance_um / 1000))
    as_bars = len(sizes) > MOST_MARKS
    rows = [
        _BarRow(group, axis) if as_bars else _MarkRow(group, axis)
        for group in strip.groups
    ]
    height = HEAD + sum(row.height for row in rows) + FOOT
    drawing = Drawing(
        WIDTH,
        height,
        title=_("Sizes of the batch and its pairs"),
        description=" ".join(describe_strip(strip)),
    )
    _legend(drawing, strip)
    _tolerance(drawing, axis, strip)
    floor = HEAD
    for row in rows:
        floor += row.height
        row.draw(drawing, floor)
    if sizes:
        draw_axis_across(drawing, axis, floor + 8, words="mm", most=10)
    else:
        drawing.text(Pen.TEXT, (LEFT, floor + 20), _("No tyre is measured yet."))
    return drawing.svg()


def describe_strip(strip: Strip) -> list[str]:
    """Say how many of each there are, group by group."""
    sentences = []
    for group in strip.groups:
        counts = _counts(group)
        pairs = ngettext("%(count)s pair", "%(count)s pairs", len(group.pairs))
        words = _("%(name)s: %(pairs)s, %(left)s left over, %(rejected)s rejected.")
        sentences.append(
            words
            % {
                "name": group.name or _("Tyres"),
                "pairs": pairs % {"count": len(group.pairs)},
                "left": counts[1],
                "rejected": counts[2],
            }
        )
    return sentences


def _counts(group: StripGroup) -> tuple[int, int, int]:
    return 2 * len(group.pairs), len(group.leftover), len(group.rejected_um)


def _axis(sizes: Sequence[int], *, room_mm: float) -> Axis:
    in_mm = [size / 1000 for size in sizes]
    return axis_over(in_mm, start=LEFT, end=RIGHT, least=room_mm)


def _legend(drawing: Drawing, strip: Strip) -> None:
    totals = [sum(each) for each in zip(*map(_counts, strip.groups), strict=True)]
    paired, left, rejected = totals or (0, 0, 0)
    x = LEFT
    for draw, words in (
        (_pair, _("paired %(count)s") % {"count": paired}),
        (_triangle, _("left over %(count)s") % {"count": left}),
        (_cross, _("rejected %(count)s") % {"count": rejected}),
    ):
        draw(drawing, (x, 14), x + 11)
        drawing.text(Pen.TEXT, (x + 18, 18), words)
        x += 36 + len(words) * 6.6


def _tolerance(drawing: Drawing, axis: Axis, strip: Strip) -> None:
    """Draw the tolerance true to the scale of the sizes, as a bar with its value."""
    if strip.tolerance_um <= 0:
        return
    length = axis.at(axis.low + strip.tolerance_um / 1000) - axis.start
    end, y = RIGHT, 20.0
    drawing.line(Pen.LINE, (end - length, y), (end, y))
    for x in (end - length, end):
        drawing.line(Pen.LINE, (x, y - 4), (x, y + 4))
    shown = shown_number(strip.tolerance_um / 1000, 3)
    words = _("tolerance %(value)s") % {"value": shown}
    drawing.text(Pen.SMALL, (end, y - 7), words, anchor="end")


def _pair(drawing: Drawing, place: Point, to_x: float) -> None:
    """Draw two spots and their link; two of like size get a ring about them."""
    x, y = place
    drawing.circle(Pen.INK, place, 3)
    drawing.circle(Pen.INK, (to_x, y), 3)
    drawing.rectangle(Pen.INK, (x, y - 0.7), to_x - x, 1.4)
    if to_x - x < 3:
        half = (to_x - x) / 2 + 4.4
        ring = f"{pixels(half)} 4.4 0 1 1"
        drawing.add(
            Pen.INK,
            f'<path fill="none" stroke="currentColor" stroke-width="1" '
            f'd="M{pixels(x - 4.4)} {pixels(y)}A{ring} '
            f'{pixels(to_x + 4.4)} {pixels(y)}A{ring} {pixels(x - 4.4)} {pixels(y)}"/>',
        )


def _triangle(drawing: Drawing, place: Point, _to_x: float) -> None:
    x, y = place
    drawing.shape(Pen.OUTLINE, [(x, y - 3.6), (x + 3.4, y + 2.6), (x - 3.4, y + 2.6)])


def _cross(drawing: Drawing, place: Point, _to_x: float) -> None:
    x, y = place
    drawing.path(
        Pen.LINE,
        f"M{pixels(x - 3)} {pixels(y - 3)}l6 6M{pixels(x + 3)} {pixels(y - 3)}l-6 6",
    )


#: Paired, left over, rejected.
_DRAW: tuple[Callable[[Drawing, Point, float], None], ...] = (_pair, _triangle, _cross)


class _MarkRow:
    """A row of single marks; what would meet stands one step higher."""

    def __init__(self, group: StripGroup, axis: Axis) -> None:
        self.group = group
        self._ends: list[float] = []
        at = [axis.at(size / 1000) for size in group.size_um]
        pairs = [(at[first], at[second]) for first, second in group.pairs]
        left = [(at[index], at[index]) for index in group.leftover]
        rejected = [(x, x) for x in (axis.at(um / 1000) for um in group.rejected_um)]
        spans = sorted(
            (min(span), max(span), kind)
            for kind, spans_of_kind in enumerate((pairs, left, rejected))
            for span in spans_of_kind
        )
        self._marks = [(kind, x, to_x, self._level(x, to_x)) for x, to_x, kind in spans]
        self.height = NAME_ROW + (len(self._ends) + 0.5) * STEP

    def _level(self, x: float, to_x: float) -> int:
        """Give the lowest level that is free from here on, and take it."""
        for level, end in enumerate(self._ends):
            if end + COLUMN < x:
                self._ends[level] = to_x
                return level
        self._ends.append(to_x)
        return len(self._ends) - 1

    def draw(self, drawing: Drawing, floor: float) -> None:
        _row_name(drawing, self.group, floor - self.height)
        drawing.line(Pen.GUIDE, (LEFT, floor), (RIGHT, floor))
        # Kind by kind, so that each pen makes one group.
        for wanted, draw in enumerate(_DRAW):
            for kind, x, to_x, level in self._marks:
                if kind == wanted:
                    draw(drawing, (x, floor - (level + 0.7) * STEP), to_x)


class _BarRow:
    """A row of bars: how many at a size are paired, left over and rejected."""

    def __init__(self, group: StripGroup, axis: Axis) -> None:
        self.group = group
        self.height = NAME_ROW + BAR_ROOM
        self._bars: dict[int, list[int]] = {}
        size = group.size_um
        paired = (size[index] for pair in group.pairs for index in pair)
        left = (size[index] for index in group.leftover)
        for kind, sizes in enumerate((paired, left, group.rejected_um)):
            for size_um in sizes:
                column = round(axis.at(size_um / 1000) / COLUMN)
                self._bars.setdefault(column, [0, 0, 0])[kind] += 1
        self._tallest = max(map(sum, self._bars.values()), default=1)

    def draw(self, drawing: Drawing, floor: float) -> None:
        tallest = ngettext(
            "tallest bar: %(count)s tyre", "tallest bar: %(count)s tyres", self._tallest
        )
        shown = tallest % {"count": self._tallest}
        top = floor - self.height
        _row_name(drawing, self.group, top)
        drawing.text(Pen.SMALL, (RIGHT, top + 20), shown, anchor="end")
        drawing.line(Pen.GUIDE, (LEFT, floor), (RIGHT, floor))
        scale = (BAR_ROOM - 4) / self._tallest
        # Kind by kind, so that each pen makes one group.
        for kind in range(3):
            for column, counts in sorted(self._bars.items()):
                self._bar(drawing, kind, column, (counts, floor, scale))

    def _bar(
        self,
        drawing: Drawing,
        kind: int,
        column: int,
        bar: tuple[list[int], float, float],
    ) -> None:
        counts, floor, scale = bar
        if not counts[kind]:
            return
        base = floor - sum(counts[:kind]) * scale
        left, height = (column - 0.5) * COLUMN + 0.6, counts[kind] * scale
        pen = (Pen.INK, Pen.OUTLINE, Pen.LINE)[kind]
        drawing.rectangle(pen, (left, base - height), COLUMN - 1.2, height)
        if pen is Pen.LINE:
            right = left + COLUMN - 1.2
            drawing.line(pen, (left, base), (right, base - height))
            drawing.line(pen, (right, base), (left, base - height))


def _row_name(drawing: Drawing, group: StripGroup, top: float) -> None:
    if group.name:
        drawing.text(Pen.TEXT, (LEFT, top + 20), group.name)
