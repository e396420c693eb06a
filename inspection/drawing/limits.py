"""A rule's limits, its guard band, the four outcomes, and where a value stands."""

from dataclasses import dataclass
from itertools import pairwise

from django.utils.translation import gettext as _

from inspection.compute.judging import DecisionRule, Outcome
from inspection.drawing.dimensions import arrow_head
from inventory.drawing.axes import Axis
from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Drawing, Pen

WIDTH, HEIGHT = 400.0, 164.0
TOP, BOTTOM = 52.0, 78.0
_ADMITTED = {
    DecisionRule.GUARDED_ACCEPTANCE: (Outcome.PASS,),
    DecisionRule.SIMPLE_ACCEPTANCE: (Outcome.PASS, Outcome.CONDITIONAL_PASS),
    DecisionRule.GUARDED_REJECTION: (
        Outcome.PASS,
        Outcome.CONDITIONAL_PASS,
        Outcome.CONDITIONAL_FAIL,
    ),
}
#: Strokes a zone is hatched with: the nearer to a fail, the denser.
_HATCH = {Outcome.FAIL: 5.0, Outcome.CONDITIONAL_FAIL: 11.0}


@dataclass(frozen=True, kw_only=True)
class RuleLimits:
    """Limits and guard band of a rule in its unit, and a value with its band."""

    guard_band: float
    decision_rule: DecisionRule
    lower: float | None = None
    upper: float | None = None
    value: float | None = None
    unit: str = "mm"
    places: int = 2


@dataclass(frozen=True, kw_only=True)
class _Zone:
    start: float
    end: float
    outcome: Outcome


def outcome_word(outcome: Outcome) -> str:
    """Give the outcome's word as shown."""
    match outcome:
        case Outcome.PASS:
            return _("pass")
        case Outcome.CONDITIONAL_PASS:
            return _("conditional pass")
        case Outcome.CONDITIONAL_FAIL:
            return _("conditional fail")
        case Outcome.FAIL:
            return _("fail")
        case Outcome.NOT_MEASURED:
            return _("not measured")
        case Outcome.NOT_APPLICABLE:
            return _("not applicable")


def draw_limits(limits: RuleLimits) -> str:
    """Draw the scale of a rule with its zones; the hatched ones send a car back."""
    drawing = Drawing(
        WIDTH,
        HEIGHT,
        title=_("Limit, guard band and the four outcomes"),
        description=" ".join(describe_limits(limits)),
    )
    axis = _axis(limits)
    zones = _zones(limits, axis)
    for zone in zones:
        _draw_zone(drawing, axis, zone)
    _draw_edges(drawing, axis, limits)
    _draw_admitted(drawing, axis, limits, zones)
    if limits.value is not None:
        _draw_value(drawing, axis, limits, limits.value)
    return drawing.svg()


def describe_limits(limits: RuleLimits) -> list[str]:
    """Say what the picture shows."""
    places, unit = limits.places, limits.unit
    sentences = []
    for words, limit in (
        (_("Lower limit %(value)s %(unit)s."), limits.lower),
        (_("Upper limit %(value)s %(unit)s."), limits.upper),
        (_("Guard band %(value)s %(unit)s."), limits.guard_band),
        (_("The value is %(value)s %(unit)s."), limits.value),
    ):
        if limit is not None:
            shown = shown_number(limit, places)
            sentences.append(words % {"value": shown, "unit": unit})
    admitted = [outcome_word(each) for each in _ADMITTED[limits.decision_rule]]
    words = _("Admitted: %(outcomes)s.")
    return [*sentences, words % {"outcomes": ", ".join(admitted)}]


def _limits(limits: RuleLimits) -> list[float]:
    return [each for each in (limits.lower, limits.upper) if each is not None]


def _edges(limits: RuleLimits) -> list[float]:
    band = limits.guard_band
    around = (edge for each in _limits(limits) for edge in (each - band, each + band))
    return sorted({*around, *_limits(limits)})


def _axis(limits: RuleLimits) -> Axis:
    edges = _edges(limits)
    span = edges[-1] - edges[0]
    room = max(1.9 * limits.guard_band, 0.3 * span, 10.0**-limits.places)
    return Axis(low=edges[0] - room, high=edges[-1] + room, start=8, end=WIDTH - 8)


def _outcome_at(limits: RuleLimits, value: float) -> Outcome:
    inside = [value - limits.lower] if limits.lower is not None else []
    inside += [limits.upper - value] if limits.upper is not None else []
    margin, band = min(inside), limits.guard_band
    if margin >= band:
        return Outcome.PASS
    if margin >= 0:
        return Outcome.CONDITIONAL_PASS
    return Outcome.CONDITIONAL_FAIL if margin >= -band else Outcome.FAIL


def _zones(limits: RuleLimits, axis: Axis) -> list[_Zone]:
    edges = [axis.low, *_edges(limits), axis.high]
    zones: list[_Zone] = []
    for low, high in pairwise(edges):
        outcome = _outcome_at(limits, (low + high) / 2)
        start = low
        # Two guard bands may overlap inside narrow limits: one zone all the same.
        if zones and zones[-1].outcome is outcome:
            start = zones.pop().start
        zones.append(_Zone(start=start, end=high, outcome=outcome))
    return zones


def _draw_zone(drawing: Drawing, axis: Axis, zone: _Zone) -> None:
    left, right = axis.at(zone.start), axis.at(zone.end)
    size = BOTTOM - TOP
    pen = Pen.TINT if zone.outcome is Outcome.CONDITIONAL_PASS else Pen.OUTLINE
    drawing.rectangle(pen, (left, TOP), right - left, size)
    if zone.outcome in _HATCH:
        _hatch(drawing, left, right, _HATCH[zone.outcome])
    words = outcome_word(zone.outcome).split()
    room = max(len(word) for word in words) * 5.6
    if right - left < room:
        return
    for row, word in enumerate(words):
        place = ((left + right) / 2, BOTTOM + 14 + row * 12)
        drawing.text(Pen.SMALL, place, word, anchor="middle")


def _hatch(drawing: Drawing, left: float, right: float, step: float) -> None:
    size = BOTTOM - TOP
    lean = size / 2
    count = int((right - left - lean) / step)
    strokes = "".join(
        f"M{left + lean + index * step:.1f} {TOP:.1f}l{-lean:.1f} {size:.1f}"
        for index in range(count + 1)
    )
    drawing.path(Pen.ACCENT_THIN, strokes)


def _draw_edges(drawing: Drawing, axis: Axis, limits: RuleLimits) -> None:
    both = len(_limits(limits)) > 1
    for index, limit in enumerate(_limits(limits)):
        x = axis.at(limit)
        drawing.line(Pen.LIMIT, (x, TOP - 8), (x, BOTTOM + 36))
        shown = f"{shown_number(limit, limits.places)} {limits.unit}"
        words = _("limit %(value)s") % {"value": shown}
        anchor = ("end", "start")[index] if both else "middle"
        drawing.text(Pen.VALUE, (x, BOTTOM + 50), words, anchor=anchor)


def _draw_admitted(
    drawing: Drawing, axis: Axis, limits: RuleLimits, zones: list[_Zone]
) -> None:
    """Draw what the decision rule admits, as a line with open ends as arrows."""
    admitted = [z for z in zones if z.outcome in _ADMITTED[limits.decision_rule]]
    y = BOTTOM + 66
    if not admitted:
        drawing.text(
            Pen.TEXT, (WIDTH / 2, y), _("nothing is admitted"), anchor="middle"
        )
        return
    start, end = axis.at(admitted[0].start), axis.at(admitted[-1].end)
    drawing.line(Pen.LINE, (start, y), (end, y))
    for x, way, is_open in (
        (start, -1, limits.lower is None),
        (end, 1, limits.upper is None),
    ):
        if is_open:
            arrow_head(drawing, (x, y), (way, 0), ink=Pen.INK)
        else:
            drawing.line(Pen.LINE, (x, y - 5), (x, y + 5))
    middle = ((start + end) / 2, y + 13)
    drawing.text(Pen.TEXT, middle, _("admitted"), anchor="middle")


def _draw_value(drawing: Drawing, axis: Axis, limits: RuleLimits, value: float) -> None:
    """Draw the value as a spot with its guard band as whiskers."""
    x, y = axis.at(value), TOP - 18
    if axis.low <= value <= axis.high:
        _whiskers(drawing, axis, (value - limits.guard_band, value + limits.guard_band))
        drawing.circle(Pen.INK, (x, y), 4.5)
        drawing.line(Pen.THIN, (x, y), (x, BOTTOM))
    else:
        way = 1 if value > axis.high else -1
        drawing.line(Pen.LINE, (x - way * 24, y), (x, y))
        arrow_head(drawing, (x, y), (way, 0), ink=Pen.INK)
    shown = f"{shown_number(value, limits.places)} {limits.unit}"
    anchor = "end" if x > WIDTH - 60 else "start" if x < 60 else "middle"
    drawing.text(Pen.VALUE, (x, y - 10), shown, anchor=anchor)


def _whiskers(drawing: Drawing, axis: Axis, band: tuple[float, float]) -> None:
    y = TOP - 18
    low, high = (axis.at(edge) for edge in band)
    drawing.line(Pen.LINE, (low, y), (high, y))
    for end in (low, high):
        drawing.line(Pen.LINE, (end, y - 4), (end, y + 4))
