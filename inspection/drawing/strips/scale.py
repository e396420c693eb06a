"""
The scale of a margin strip: where on its line a value of a rule stands.

Pixels of the strip's own box.  One limit stands at 80 with the allowed side to the
right, or mirrored; two stand at 52 and 148.  Where doubt is too small to be seen
between two limits, both ends are magnified and the middle is cut out.
"""

import math
from dataclasses import dataclass

from inspection.compute.judging import Outcome
from inspection.compute.quantities import Kind, Quantity
from inventory.compute.numbers import Unit

WIDTH, HEIGHT, BASE = 200.0, 28.0, 14.0
LIMIT, REACH = 80.0, 90.0
LOWER, UPPER, END_REACH = 52.0, 148.0, 34.0
MIDDLE, MIDDLE_CUTS = 100.0, (89.0, 111.0)
#: A pocket's middle from the edge: outside, inside; and how far behind it is the cut.
POCKET, POCKET_INSIDE, POCKET_CUT = 9.0, 12.0, 11.0
#: Nothing on the scale itself stands nearer to the edge than this.
EDGE = 26.0
LEAST_GUARD, CLEAR = 3.0, 0.6
_CONDITIONAL = frozenset({Outcome.CONDITIONAL_PASS, Outcome.CONDITIONAL_FAIL})


@dataclass(frozen=True, kw_only=True)
class Guards:
    """The guard band in pixels, towards the allowed side and away from it."""

    inside: float = 0.0
    outside: float = 0.0


@dataclass(frozen=True, kw_only=True)
class LimitPlace:
    """A limit on the line, and the side on which it allows."""

    at: float
    opens_right: bool

    def band(self, guards: Guards) -> tuple[float, float]:
        """From where to where the guard band is hatched."""
        left = guards.outside if self.opens_right else guards.inside
        right = guards.inside if self.opens_right else guards.outside
        return max(0.0, self.at - left), min(WIDTH, self.at + right)


@dataclass(frozen=True, kw_only=True)
class Tip:
    """Where a pointer stands, how wide half of it may be, and what is cut before it."""

    at: float
    room: float
    cut: float | None = None


@dataclass(frozen=True, kw_only=True)
class Scale:
    """
    One rule's line.

    ``per_unit`` is in pixels; ``limits`` has one or two places.  ``deepest`` is the
    distance inside a limit, in pixels, beyond which a value stands in a pocket.
    """

    lower: float | None
    upper: float | None
    per_unit: float
    deepest: float
    limits: tuple[LimitPlace, ...]
    cuts: tuple[float, ...] = ()

    @property
    def allowed(self) -> tuple[float, float]:
        first, last = self.limits[0], self.limits[-1]
        start = first.at if first.opens_right else 0.0
        end = WIDTH if last.opens_right else last.at
        return start, end

    def length(self, distance: float) -> float:
        """Give a distance in the rule's unit as pixels."""
        return distance * self.per_unit

    def guards(
        self, guard_band: float, outcome: Outcome, value: float | None
    ) -> Guards:
        """
        Give the guard band as it is hatched; none where there is no doubt.

        A conditional outcome lies in it: where several places are judged together,
        or both limits count, it reaches further than one limit's own.
        """
        if guard_band <= 0 and outcome not in _CONDITIONAL:
            return Guards()
        wide = max(LEAST_GUARD, self.length(guard_band))
        off = 0.0 if value is None else self.length(abs(self._nearest(value)[1]))
        reach = max(wide, off + CLEAR)
        is_inside = outcome is Outcome.CONDITIONAL_PASS
        is_outside = outcome is Outcome.CONDITIONAL_FAIL
        return Guards(
            inside=min(reach if is_inside else wide, self._most_inside),
            outside=min(reach if is_outside else wide, self._most_outside),
        )

    @property
    def _most_inside(self) -> float:
        if len(self.limits) == 1:
            return REACH - 6
        return MIDDLE_CUTS[0] - LOWER - 3 if self.cuts else MIDDLE - LOWER

    @property
    def _most_outside(self) -> float:
        first = self.limits[0]
        room = first.at if first.opens_right else WIDTH - first.at
        return room - EDGE

    def tip(self, value: float, outcome: Outcome, guards: Guards) -> Tip:
        """Say where the pointer stands: on the side of limit and band as found."""
        place, depth = self._nearest(value)
        off = self.length(depth)
        match outcome:
            case Outcome.PASS:
                off = max(off, guards.inside + CLEAR)
            case Outcome.CONDITIONAL_PASS:
                off = min(max(off, CLEAR), guards.inside - CLEAR / 2)
            case Outcome.CONDITIONAL_FAIL:
                off = max(min(off, -CLEAR), -guards.outside + CLEAR / 2)
            case _:
                off = min(off, -guards.outside - CLEAR)
        return self._at(place, off)

    def _nearest(self, value: float) -> tuple[LimitPlace, float]:
        depths = []
        if self.lower is not None:
            depths.append((self.limits[0], value - self.lower))
        if self.upper is not None:
            depths.append((self.limits[-1], self.upper - value))
        return min(depths, key=lambda one: one[1])

    def _at(self, place: LimitPlace, off: float) -> Tip:
        way = 1 if place.opens_right else -1
        at = place.at + way * off
        if off > self.deepest:
            if len(self.limits) == 2:
                return Tip(at=MIDDLE, room=7.0)
            return _pocket(POCKET_INSIDE, at_right=place.opens_right)
        if off < 0 and not EDGE <= at <= WIDTH - EDGE:
            return _pocket(POCKET, at_right=not place.opens_right)
        return Tip(at=at, room=min(at, WIDTH - at) - 1)

    def nearest(self, at: float) -> float:
        """Give the limit that a place is nearest to."""
        return min((one.at for one in self.limits), key=lambda limit: abs(limit - at))


def _pocket(depth: float, *, at_right: bool) -> Tip:
    cut = depth + POCKET_CUT
    if at_right:
        return Tip(at=WIDTH - depth, room=depth - 1, cut=WIDTH - cut)
    return Tip(at=depth, room=depth - 1, cut=cut)


def scale_of(
    lower: float | None, upper: float | None, ordinary_guard: float
) -> Scale | None:
    """Lay the scale of a rule; None where it has no limit."""
    low = None if lower is None else LimitPlace(at=LOWER, opens_right=True)
    high = None if upper is None else LimitPlace(at=UPPER, opens_right=False)
    if lower is not None and upper is not None and low and high:
        return _two_sided(lower, upper, ordinary_guard, (low, high))
    limit = lower if lower is not None else upper
    if limit is None:
        return None
    is_lower = lower is not None
    at = LIMIT if is_lower else WIDTH - LIMIT
    full = _one_two_five(10 * ordinary_guard or abs(limit) / 5 or 1.0)
    return Scale(
        lower=lower,
        upper=upper,
        per_unit=REACH / full,
        deepest=REACH,
        limits=(LimitPlace(at=at, opens_right=is_lower),),
    )


def _two_sided(
    lower: float,
    upper: float,
    ordinary_guard: float,
    limits: tuple[LimitPlace, LimitPlace],
) -> Scale:
    width = upper - lower
    if width <= 0 or ordinary_guard * (UPPER - LOWER) < LEAST_GUARD * width:
        full = _one_two_five(5 * ordinary_guard or width or abs(lower) / 5 or 1.0)
        if ordinary_guard > 0 or width <= 0:
            return Scale(
                lower=lower,
                upper=upper,
                per_unit=END_REACH / full,
                deepest=END_REACH,
                limits=limits,
                cuts=MIDDLE_CUTS,
            )
    return Scale(
        lower=lower,
        upper=upper,
        per_unit=(UPPER - LOWER) / width,
        deepest=math.inf,
        limits=limits,
    )


def ordinary_guard(quantity: Quantity, factor: float) -> float:
    """Give the guard band of an ordinary reading: what a rule's scale is laid by."""
    if quantity.unit is Unit.ONE or quantity.kind in {Kind.COUNTED, Kind.LOOKED_AT}:
        return 0.0
    step = 10.0**-quantity.decimals
    # What is worked out has no repeatability of its own; a few steps is usual of it.
    u = quantity.repeatability + step if quantity.repeatability else 4 * step
    return factor * u


def _one_two_five(least: float) -> float:
    """Give the smallest of 1, 2, 5 × 10ⁿ that is not below."""
    power = 10.0 ** math.floor(math.log10(least))
    # 0.1 + 0.2 is 0.30000000000000004: what is at a step must not take the next.
    return next(k * power for k in (1, 2, 5, 10) if k * power >= least * (1 - 1e-9))
