"""
Rules on quantities that hang together, and that no car can meet together.

Each rule leaves its quantity an interval, a quantity without one what it can be at
all.  The formula that joins them is worked out over the intervals (Moore, Interval
Analysis, 1966): where what comes out and what a rule asks of it have nothing in
common, no car meets them all.  Every formula here goes one way in each of its inputs,
so that its least and its greatest value are at corners of the box.  Counts of teeth
are whole, and each pair of them is tried.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import ceil, floor, inf
from typing import Final

import numpy as np

from inspection.compute.quantities import (
    QUANTITIES,
    FrontCarrier,
    Kind,
    Layout,
    Quantity,
    column_owner,
)
from inspection.compute.rulebooks.requirements import Force, Stage
from inspection.compute.rulebooks.text import RuleText
from inventory.compute.numbers import from_millionths

# Soft tyres give up to so much under the car: common practice, no source.
_SINK_MM: Final = 0.03
_BY_FORMULA: Final = (
    *(f"tyre_mismatch_{end}" for end in ("rear", "front")),
    *(f"track_{end}" for end in ("rear", "front")),
    "gear_ratio",
    "rollout",
)


@dataclass(frozen=True, kw_only=True)
class Unmeetable:
    """
    Rules that no car meets together.

    Attributes
    ----------
    rules : tuple of RuleText
        All that it takes, that of the quantity which is worked out last.
    quantity : str
        What is worked out, by its key.
    comes_out, asked : float or None
        What comes out, in the quantity's unit, and what is asked, below it or above;
        neither where no whole counts of teeth have a ratio that is asked for.
    is_strict : bool
        Whether it is so however the car stands, and whatever else it has.
    """

    rules: tuple[RuleText, ...]
    quantity: str
    comes_out: float | None
    asked: float | None
    is_strict: bool


@dataclass(frozen=True, kw_only=True)
class _End:
    """One end of an interval, and the rules that it comes from; none: the registry."""

    value: float
    rules: tuple[RuleText, ...] = ()


@dataclass(frozen=True, kw_only=True)
class _Interval:
    low: _End
    high: _End

    @property
    def ends(self) -> tuple[_End, _End]:
        return self.low, self.high


@dataclass(frozen=True, kw_only=True)
class _Link:
    """
    A quantity that others bound.

    ``bounds`` gives its least and greatest value for ends of the inputs; one that
    is not ``is_strict`` speaks of a car that stands level on all its wheels.
    """

    key: str
    inputs: tuple[str, ...]
    by: Callable[[Sequence[float]], float]
    is_strict: bool = True
    has_least: bool = True
    only_on: FrontCarrier | None = None


def _registered(key: str) -> _Link:
    formula = QUANTITIES[key].formula
    if formula is None:
        msg = f"{key} has no formula"
        raise LookupError(msg)
    by = formula.by
    return _Link(
        key=key,
        inputs=tuple(column_owner(column)[0] for column in formula.inputs),
        by=lambda at: float(by(np.array([at], dtype=np.float64))[0, 0]),
    )


def _standing(end: str) -> Iterator[_Link]:
    """Say what is under the chassis of a level car: half a tyre less the axle."""
    tyre, axle = f"tyre_diameter_{end}", f"axle_height_{end}"
    on_wheels = FrontCarrier.FRONT_WHEELS if end == "front" else None
    # The chassis clearance is the least of the ride height and of what hangs lower.
    for key, has_least in ((f"ride_height_{end}", True), (f"clearance_{end}", False)):
        yield _Link(
            key=key,
            inputs=(tyre, axle, "tyre_sink"),
            by=lambda at: at[0] / 2 - at[1] - at[2],
            is_strict=False,
            has_least=has_least,
            only_on=on_wheels,
        )


_LINKS: Final = (
    *(_registered(key) for key in _BY_FORMULA),
    *_standing("rear"),
    *_standing("front"),
    # The gear hangs on the axle, whose centre is half a tyre over the track.
    _Link(
        key="clearance_gear",
        inputs=("tyre_diameter_rear", "gear_diameter", "tyre_sink"),
        by=lambda at: at[0] / 2 - at[1] / 2 - at[2],
        is_strict=False,
    ),
)


def unmeetable_links(
    rules: Sequence[RuleText], classes: Sequence[str]
) -> tuple[Unmeetable, ...]:
    """
    Find rules on linked quantities that no car meets together.

    Parameters
    ----------
    rules : sequence of RuleText
        Of one edition.
    classes : sequence of str
        Names of the classes that race by it.

    Returns
    -------
    tuple of Unmeetable
        Each set of rules once, in the order in which classes and kinds of car meet
        them.
    """
    by_rules: dict[tuple[str, ...], Unmeetable] = {}
    kinds = product(classes or ("",), Layout, FrontCarrier)
    for (name, layout, carrier), stage in product(kinds, (Stage.BEFORE, Stage.AFTER)):
        words = {"layout": str(layout), "front_carrier": str(carrier)}
        asked = [one for one in rules if _is_asked(one, name, words, stage)]
        for one in _of_one_car(asked, carrier, stage):
            by_rules.setdefault(tuple(rule.number for rule in one.rules), one)
    return tuple(by_rules.values())


def _is_asked(
    rule: RuleText, race_class: str, words: Mapping[str, str], stage: Stage
) -> bool:
    if rule.quantity not in QUANTITIES or stage not in rule.stages:
        return False
    if rule.classes and race_class not in rule.classes:
        return False
    return words.get(rule.condition_key, rule.condition_word) == rule.condition_word


def _of_one_car(
    rules: Sequence[RuleText], carrier: FrontCarrier, stage: Stage
) -> Iterator[Unmeetable]:
    asked: dict[str, _Interval] = {}
    for rule in rules:
        key = rule.quantity
        asked[key] = _narrowed(asked.get(key, _plausible(QUANTITIES[key])), rule, stage)
    # Two rules on one quantity that exclude each other are told by themselves.
    if any(one.low.value > one.high.value for one in asked.values()):
        return
    for link in _LINKS:
        if link.only_on not in {None, carrier}:
            continue
        made = _made(link, asked)
        limit = asked.get(link.key)
        if limit is not None and _cross(made, limit):
            yield from _apart(link, made, limit)
            continue
        if limit is not None and link.key == "gear_ratio":
            yield from _no_teeth(asked)
        asked[link.key] = _met(made, limit)


def _plausible(quantity: Quantity) -> _Interval:
    low, high = quantity.low, quantity.high
    if quantity.key == "tyre_sink":
        low, high = 0.0, _SINK_MM
    if quantity.kind in {Kind.DERIVED, Kind.TAKEN_OR_DERIVED}:
        # What is worked out is whatever its inputs make it.
        low, high = -inf, inf
    return _Interval(low=_End(value=low), high=_End(value=high))


def _narrowed(before: _Interval, rule: RuleText, stage: Stage) -> _Interval:
    lower, upper = rule.limits(stage)
    low, high = before.low, before.high
    if lower is not None and (from_millionths(lower) > low.value or not low.rules):
        low = _End(value=from_millionths(lower), rules=(rule,))
    if upper is not None and (from_millionths(upper) < high.value or not high.rules):
        high = _End(value=from_millionths(upper), rules=(rule,))
    return _Interval(low=low, high=high)


def _made(link: _Link, asked: Mapping[str, _Interval]) -> _Interval:
    """Work a link out at every corner, and keep the least and the greatest."""
    boxes = [
        (asked[key] if key in asked else _plausible(QUANTITIES[key])).ends
        for key in link.inputs
    ]
    if link.key == "gear_ratio":
        boxes = [_whole(box) for box in boxes]
    # A corner at which nothing can be worked out (0 by 0) bounds nothing.
    with np.errstate(divide="ignore", invalid="ignore"):
        worked = (
            (link.by([end.value for end in corner]), corner)
            for corner in product(*boxes)
        )
        corners = [one for one in worked if not np.isnan(one[0])]
    if not corners:
        return _Interval(low=_End(value=-inf), high=_End(value=inf))
    low = min(corners, key=lambda one: one[0])
    high = max(corners, key=lambda one: one[0])
    least = _End(value=low[0], rules=_rules_of(low[1]))
    return _Interval(
        low=least if link.has_least else _End(value=-inf),
        high=_End(value=high[0], rules=_rules_of(high[1])),
    )


def _whole(box: tuple[_End, _End]) -> tuple[_End, _End]:
    low, high = box
    return (
        _End(value=ceil(low.value - 1e-9), rules=low.rules),
        _End(value=floor(high.value + 1e-9), rules=high.rules),
    )


def _rules_of(corner: Sequence[_End]) -> tuple[RuleText, ...]:
    return tuple(dict.fromkeys(rule for end in corner for rule in end.rules))


def _cross(made: _Interval, limit: _Interval) -> bool:
    return bool(_round(made.high.value) < _round(limit.low.value)) or bool(
        _round(made.low.value) > _round(limit.high.value)
    )


def _round(value: float) -> float:
    return round(value, 6) if abs(value) < inf else value


def _met(made: _Interval, limit: _Interval | None) -> _Interval:
    if limit is None:
        return made
    low = max(made.low, limit.low, key=lambda end: end.value)
    high = min(made.high, limit.high, key=lambda end: end.value)
    return _Interval(low=low, high=high)


def _apart(link: _Link, made: _Interval, limit: _Interval) -> Iterator[Unmeetable]:
    is_less = _round(made.high.value) < _round(limit.low.value)
    end, asks = (made.high, limit.low) if is_less else (made.low, limit.high)
    if end.rules and asks.rules:
        yield Unmeetable(
            rules=(*end.rules, *asks.rules),
            quantity=link.key,
            comes_out=end.value,
            asked=asks.value,
            is_strict=link.is_strict and _is_all_ruled(link, end, asks),
        )


def _is_all_ruled(link: _Link, end: _End, asks: _End) -> bool:
    """Whether rules alone exclude it, mandatory ones, and not what is plausible."""
    rules = (*end.rules, *asks.rules)
    spoken = {rule.quantity for rule in end.rules}
    inputs = set(link.inputs)
    if "gear_ratio" in inputs and "gear_ratio" not in spoken:
        inputs = inputs - {"gear_ratio"} | {"teeth_gear", "teeth_pinion"}
    return inputs <= spoken and all(one.force is Force.MANDATORY for one in rules)


def _no_teeth(asked: Mapping[str, _Interval]) -> Iterator[Unmeetable]:
    """Say where no pair of whole counts has a ratio between two limits."""
    limit = asked["gear_ratio"]
    boxes = [
        (asked[key] if key in asked else _plausible(QUANTITIES[key])).ends
        for key in ("teeth_gear", "teeth_pinion")
    ]
    # A rule may ask for no tooth at all, or for more than any gear has.
    most = _plausible(QUANTITIES["teeth_gear"]).high.value
    counts = product(
        *(
            range(max(1, ceil(low.value)), floor(min(high.value, most)) + 1)
            for low, high in boxes
        )
    )
    low, high = limit.low.value - 1e-6, limit.high.value + 1e-6
    if any(low <= one / other <= high for one, other in counts):
        return
    rules = _rules_of([*boxes[0], *boxes[1], *limit.ends])
    ruled = {rule.quantity for rule in rules}
    yield Unmeetable(
        rules=rules,
        quantity="gear_ratio",
        comes_out=None,
        asked=None,
        is_strict={"teeth_gear", "teeth_pinion"} <= ruled
        and all(one.force is Force.MANDATORY for one in rules),
    )
