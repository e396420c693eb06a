"""
The margin strip never contradicts its outcome.

What is held here is read back from the picture's geometry alone, without any colour:
so it holds in grey and on paper.  Outcomes come from ``judge``, which has tests of its
own against JCGM 106; the construction in numbers is this project's own design.
"""

import re
from xml.etree import ElementTree as ET

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from inspection.compute.judging import DecisionRule, Outcome, judge
from inspection.compute.quantities import QUANTITIES
from inspection.drawing.limits import outcome_word
from inspection.drawing.strips import (
    BASE,
    WIDTH,
    Margin,
    draw_margin_strip,
    ordinary_guard,
    scale_of,
)
from tests.inventory.drawings import corners, numbers_in, read

IS_UNDER = {Outcome.CONDITIONAL_FAIL, Outcome.FAIL}
IS_HOLLOW = {Outcome.CONDITIONAL_PASS, Outcome.CONDITIONAL_FAIL}
#: A sheet has forty of them and an answer of the block a dozen.
MOST_BYTES = 2_000
FACTOR = 1.645  # the normal quantile of 0.95, any table of it


class Seen:
    """A strip as somebody sees it who sees no colour."""

    def __init__(self, margin: Margin) -> None:
        self.svg = draw_margin_strip(margin)
        numbers_in(self.svg)
        assert len(self.svg.encode()) <= MOST_BYTES
        assert "style=" not in self.svg
        self.root = read(self.svg)

    def all(self, kind: str) -> list[ET.Element]:
        paths = self.root.iter()
        return [e for e in paths if kind in (e.get("class") or "").split()]

    @property
    def pointer(self) -> list[tuple[float, float]]:
        (only,) = self.all("s-tip")
        return corners(only)

    @property
    def tip(self) -> float:
        return self.pointer[0][0]

    @property
    def is_under(self) -> bool:
        return sum(y for _, y in self.pointer) / len(self.pointer) > BASE

    @property
    def is_hollow(self) -> bool:
        (only,) = self.all("s-tip")
        return only.get("fill") is None

    @property
    def brackets(self) -> list[tuple[float, bool]]:
        """Give each limit, and whether it opens to the right."""
        found = []
        for path in self.all("s-limit"):
            for serif, at in re.findall(
                r"M([-\d.]+) 2H([-\d.]+)V26", path.get("d", "")
            ):
                found.append((float(at), float(serif) > float(at)))
        return found

    def depth(self) -> float:
        """Pixels inside the nearest limit, negative outside."""
        return min(
            self.tip - at if opens_right else at - self.tip
            for at, opens_right in self.brackets
        )

    def band(self, limit: float) -> tuple[float, float]:
        """From where to where it is hatched about a limit."""
        place = [at for at, _ in self.brackets].index(limit)
        hatched = self.all("s-hatch")
        xs = [x for x, _ in corners(hatched[place])] if hatched else [limit]
        return min(xs), max(xs)


sizes = st.floats(-1e4, 1e4, allow_nan=False).map(lambda x: round(x, 6))
doubts = st.one_of(st.just(0.0), st.floats(1e-4, 100).map(lambda x: round(x, 6)))


@st.composite
def margins(draw: st.DrawFn) -> Margin:
    limit, u = draw(sizes), draw(doubts)
    sides = draw(st.sampled_from(["lower", "upper", "both"]))
    width = draw(st.floats(1e-3, 1e3)) if sides == "both" else 0.0
    lower = limit if sides != "upper" else None
    upper = round(limit + width, 6) if sides != "lower" else None
    # Near the limit by its doubt or its step, or anywhere.
    near = draw(st.floats(-4, 4)) * (u or 0.01)
    far = draw(st.floats(-1e3, 1e3))
    base = draw(st.sampled_from([one for one in (lower, upper) if one is not None]))
    value = round(base + draw(st.sampled_from([near, far])), 6)
    rule = draw(st.sampled_from(list(DecisionRule)))
    judged = judge(value, u, lower=lower, upper=upper, rule=rule)
    return Margin(
        outcome=judged.outcome,
        lower=lower,
        upper=upper,
        value=value,
        u=u,
        guard_band=judged.guard_band,
        ordinary_guard=draw(st.one_of(st.just(0.0), st.floats(1e-4, 10))),
        is_refused=not judged.admitted,
        is_binding=True,
    )


@given(margins())
def test_strip_never_contradicts_its_outcome(margin: Margin) -> None:
    seen, outcome = Seen(margin), margin.outcome
    assert seen.is_under == (outcome in IS_UNDER)
    assert seen.is_hollow == (outcome in IS_HOLLOW)
    assert (seen.depth() < 0) == (outcome in IS_UNDER)
    # It stands in the hatched band exactly where it is too near to be sure.
    nearest, opens_right = min(
        seen.brackets,
        key=lambda one: seen.tip - one[0] if one[1] else one[0] - seen.tip,
    )
    low, high = seen.band(nearest)
    is_in = low - 0.01 <= seen.tip <= high + 0.01
    if outcome in IS_HOLLOW:
        assert is_in
    elif margin.guard_band > 0:
        assert not is_in
    # Brackets open to the allowed side, and the pointer is all on the picture.
    assert opens_right == (nearest == seen.brackets[0][0] and margin.lower is not None)
    assert all(0 <= x <= WIDTH and 0 <= y <= 28 for x, y in seen.pointer)
    # A shortfall is drawn of a fail, and of nothing else.
    assert bool(seen.all("s-short")) == (outcome is Outcome.FAIL)
    # The accent says that the car is refused, and nothing that the shape does not.
    assert bool(seen.all("s-refused")) == margin.is_refused
    other = Margin(**{**vars(margin), "is_refused": not margin.is_refused})
    assert draw_margin_strip(other).replace(" s-refused", "") == seen.svg.replace(
        " s-refused", ""
    )


@pytest.mark.parametrize(
    # 90 px are the 1-2-5 number from ten guard bands on: 0.5 mm of 0.05 mm.
    ("u", "width"),
    [(0.0, 8.0), (0.01, 8.0), (0.03, 10.8), (0.05, 18.0)],
)
def test_pointer_is_as_wide_as_its_doubt_and_8_at_least(u: float, width: float) -> None:
    margin = Margin(
        outcome=Outcome.PASS, lower=1.0, value=1.3, u=u, ordinary_guard=0.05
    )
    seen = Seen(margin)
    xs = [x for x, _ in seen.pointer]
    assert max(xs) - min(xs) == pytest.approx(width, abs=0.02)
    # 0.3 mm inside the limit at 80.
    assert seen.tip == pytest.approx(80 + 0.3 / 0.5 * 90, abs=0.01)


@given(margins(), st.floats(0, 1))
def test_cars_of_one_rule_stand_in_the_order_of_their_values(
    margin: Margin, step: float
) -> None:
    """The scale is the rule's: a larger value is never further left."""
    assume(margin.value is not None)
    value = round((margin.value or 0.0) + step, 6)
    rule = DecisionRule.SIMPLE_ACCEPTANCE
    judged = judge(value, margin.u, lower=margin.lower, upper=margin.upper, rule=rule)
    other = Margin(**{**vars(margin), "value": value, "outcome": judged.outcome})
    # Between two magnified ends the middle is one place for all.
    assert Seen(margin).tip <= Seen(other).tip + 0.7


@pytest.mark.parametrize("asked", [True, False])
@pytest.mark.parametrize("seen_is", [True, False, None])
def test_answer_stands_over_what_was_seen(*, asked: bool, seen_is: bool | None) -> None:
    outcome = {None: Outcome.NOT_MEASURED, asked: Outcome.PASS}.get(
        seen_is, Outcome.FAIL
    )
    value = None if seen_is is None else float(seen_is)
    seen = Seen(Margin(outcome=outcome, required=asked, value=value))
    # "no" is always left, "yes" right; brackets are about what is asked for.
    texts = {t.text: float(t.get("x", 0)) for t in seen.root.iter("text")}
    assert texts["no"] < 50
    assert texts["yes"] > 150
    assert all((at > 100) == asked for at, _ in seen.brackets)
    if seen_is is None:
        assert not seen.all("s-tip")
        assert seen.all("unknown")
    else:
        assert (seen.tip > 100) == seen_is
        assert seen.is_under == (seen_is != asked)


@pytest.mark.parametrize("went", [True, False])
@pytest.mark.parametrize("side", ["lower", "upper"])
def test_slip_reaches_from_the_limit_to_where_nothing_is_known(
    *, went: bool, side: str
) -> None:
    """Under a gap of at least 0.85 the slip goes; under one of at most, it stops."""
    is_met = went == (side == "lower")
    outcome = Outcome.PASS if is_met else Outcome.FAIL
    seen = Seen(
        Margin(
            outcome=outcome,
            lower=0.85 if side == "lower" else None,
            upper=0.85 if side == "upper" else None,
            value=0.85,
            went_under=went,
        )
    )
    (limit, _), slab = seen.brackets[0], seen.pointer
    xs = [x for x, _ in slab]
    # More than the slip's size is to the right of it.
    assert (min(xs) >= limit - 1) if went else (max(xs) <= limit + 1)
    assert max(xs) - min(xs) > 40
    assert seen.is_under != is_met


def test_not_measured_keeps_its_limits_and_points_at_nothing() -> None:
    seen = Seen(Margin(outcome=Outcome.NOT_MEASURED, lower=0.85, ordinary_guard=0.05))
    assert seen.brackets == [(80.0, True)]
    assert seen.all("s-hatch")
    assert not seen.all("s-tip")
    assert len(seen.all("unknown")) == 2


def test_not_applicable_is_a_line_with_a_stroke_through_it() -> None:
    seen = Seen(Margin(outcome=Outcome.NOT_APPLICABLE, lower=0.85))
    assert [e.get("class") for e in seen.root] == ["s-off"]


def test_advice_is_a_broken_tick_and_never_in_the_accent() -> None:
    margin = Margin(
        outcome=Outcome.FAIL, upper=0.85, value=1.0, is_refused=True, is_binding=False
    )
    seen = Seen(margin)
    (tick,) = seen.all("advice")
    assert tick.get("stroke-dasharray")
    assert not seen.brackets
    assert not seen.all("s-refused")


def test_alone_it_has_a_label_and_beside_words_none() -> None:
    margin = Margin(outcome=Outcome.PASS, lower=0.6, value=0.8)
    assert 'aria-hidden="true"' in draw_margin_strip(margin)
    alone = draw_margin_strip(margin, words="0.80 mm, at least <0.60>")
    assert read(alone).get("aria-label") == "0.80 mm, at least <0.60>"
    assert read(alone).get("role") == "img"


@pytest.mark.parametrize("key", [k for k, q in QUANTITIES.items() if q.words is None])
def test_every_quantity_has_a_scale_on_which_its_doubt_is_seen(key: str) -> None:
    quantity = QUANTITIES[key]
    guard = ordinary_guard(quantity, FACTOR)
    middle = (quantity.low + quantity.high) / 2
    for lower, upper in ((middle, None), (None, middle), (quantity.low, quantity.high)):
        scale = scale_of(lower, upper, guard)
        assert scale is not None
        guards = scale.guards(guard, Outcome.PASS, middle)
        assert guards.inside >= 3 if guard else guards.inside == 0
        assert guards.inside <= 48


def test_every_outcome_has_its_picture() -> None:
    pictures = {
        outcome: draw_margin_strip(
            Margin(outcome=outcome, lower=1.0, value=1.0, guard_band=0.1)
        )
        for outcome in Outcome
    }
    assert len(set(pictures.values())) == len(Outcome)
    assert all(outcome_word(outcome) for outcome in pictures)


def test_where_it_is_wide_its_figures_stand_at_it() -> None:
    margin = Margin(
        outcome=Outcome.FAIL, lower=78.0, upper=104.0, value=76.5, ordinary_guard=0.2
    )
    assert "s-figure" not in draw_margin_strip(margin)
    root = read(draw_margin_strip(margin, places=1))
    left, top, wide, high = map(float, root.get("viewBox", "").split())
    figures = [e for e in root.iter() if "s-figure" in (e.get("class") or "").split()]
    assert [e.text for e in figures] == ["78.0", "104.0", "76.5"]
    *limits, value = figures
    # Each limit under its bracket, the value over its pointer, all in the box.
    seen = Seen(margin)
    assert [float(e.get("x", "")) for e in limits] == [at for at, _ in seen.brackets]
    assert float(value.get("x", "")) == pytest.approx(seen.tip)
    assert all(float(e.get("y", "")) > 28 for e in limits)
    assert float(value.get("y", "")) < 0
    assert all(top < float(e.get("y", "")) < top + high for e in figures)
    assert (left, wide) == (0, WIDTH)
