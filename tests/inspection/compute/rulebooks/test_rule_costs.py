"""What a decision rule costs: the guide's own figures, and drawn seasons."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize, stats

from inspection.compute.judging import DecisionRule
from inspection.compute.rulebooks.rule_costs import (
    RuleSeen,
    Spread,
    SpreadLimits,
    accepted_by,
    cost_of,
    normal_spread,
    shares,
    spread_of,
)

RESISTORS = normal_spread(1500.0, 0.12)
TOLERANCE = SpreadLimits(lower=1499.8, upper=1500.2)


def test_resistors_of_the_guide() -> None:
    # JCGM 106:2012, 9.5: u0 0.12, um 0.04, accepted within 0.18 of 0.20.  C1-06 to
    # C1-08 (limits seen in a public file, risks recomputed by two libraries).
    guarded = SpreadLimits(lower=1499.82, upper=1500.18)
    found = shares(RESISTORS, 0.04, legal=TOLERANCE, accepted=guarded)
    assert found.admitted_illegal == pytest.approx(0.00987829, abs=1e-8)
    assert found.refused_legal == pytest.approx(0.06902651, abs=1e-8)
    assert found.legal == pytest.approx(0.90441930, abs=1e-8)
    # C1-09: simple acceptance.
    simple = shares(RESISTORS, 0.04, legal=TOLERANCE, accepted=TOLERANCE)
    assert simple.admitted_illegal == pytest.approx(0.01894221, abs=1e-8)
    assert simple.refused_legal == pytest.approx(0.03720780, abs=1e-8)


def test_ball_bearings_of_the_guide() -> None:
    # C1-10 to C1-13: gamma of shape 4 and mean 1, at most 2 µm, u 0.25 (seen in a
    # public notebook; recomputed).
    gamma = stats.gamma(4, scale=0.25)
    bearings = Spread(density=gamma.pdf, low=0.0, high=float(gamma.isf(1e-16)))
    limit = SpreadLimits(upper=2.0)

    def of(upper: float) -> tuple[float, float]:
        found = shares(bearings, 0.25, legal=limit, accepted=SpreadLimits(upper=upper))
        return found.admitted_illegal, found.refused_legal

    assert 1 - shares(
        bearings, 0.25, legal=limit, accepted=limit
    ).legal == pytest.approx(0.0423801, abs=1e-7)
    assert of(2.0)[0] == pytest.approx(0.00801911, abs=1e-8)
    guard = optimize.brentq(lambda w: of(2.0 - w)[0] - 0.001, 0.1, 0.6, xtol=1e-12)
    assert guard == pytest.approx(0.32817123, abs=1e-7)
    assert of(1.67182877)[1] == pytest.approx(0.07549388, abs=1e-8)


@pytest.mark.parametrize(
    ("limit", "u", "factor", "consumer", "producer"),
    # C1-14 to C1-16, in standard deviations of the process.
    [
        (2.0, 0.25, 1.0, 0.0080061, 0.0148509),
        (2.5, 0.25, 1.0, 0.0024453, None),
        (2.0, 0.5, 0.91, 0.0080516, 0.0661065),
    ],
)
def test_published_false_accepts(
    limit: float, u: float, factor: float, consumer: float, producer: float | None
) -> None:
    legal = SpreadLimits(lower=-limit, upper=limit)
    accepted = SpreadLimits(lower=-limit * factor, upper=limit * factor)
    found = shares(normal_spread(0.0, 1.0), u, legal=legal, accepted=accepted)
    assert found.admitted_illegal == pytest.approx(consumer, abs=1e-7)
    if producer is not None:
        assert found.refused_legal == pytest.approx(producer, abs=1e-7)


@pytest.mark.parametrize("rule", DecisionRule)
def test_cost_of_a_season_is_that_of_drawn_seasons(rule: DecisionRule) -> None:
    # 400 cars of a class, two rules; a season of 10 looks a car is drawn 100 times.
    rng = np.random.default_rng(22)
    true = np.column_stack((rng.normal(1.1, 0.08, 400), rng.normal(62.0, 0.4, 400)))
    u = np.array([0.03, 0.1])
    limits = SpreadLimits(lower=1.0), SpreadLimits(lower=61.2, upper=62.8)
    read = true + rng.normal(0, u, true.shape)
    seen = [
        RuleSeen(
            legal=limits[k],
            value=read[:, k],
            u=np.full(400, u[k]),
            is_about=np.ones(400, dtype=np.bool_),
        )
        for k in range(2)
    ]
    cost = cost_of(seen, np.full(400, 10.0), rule=rule, confidence=0.95)
    # A rule of which nothing was read says nothing, and costs nothing.
    unread = replace(seen[0], value=np.full(400, np.nan))
    with_it = cost_of([*seen, unread], np.full(400, 10.0), rule=rule, confidence=0.95)
    assert with_it == cost
    way = {
        DecisionRule.SIMPLE_ACCEPTANCE: 0,
        DecisionRule.GUARDED_ACCEPTANCE: 1,
        DecisionRule.GUARDED_REJECTION: -1,
    }
    edge = stats.norm.ppf(0.95) * way[rule]
    low, high = (np.array([1.0, 61.2]), np.array([np.inf, 62.8]))
    refused = admitted = 0
    for _ in range(100):
        cars = np.column_stack((rng.normal(1.1, 0.08, 4000), rng.normal(62, 0.4, 4000)))
        legal = ((cars >= low) & (cars <= high)).all(axis=1)
        shown = cars + rng.normal(0, u, cars.shape)
        goes = ((shown >= low + edge * u) & (shown <= high - edge * u)).all(axis=1)
        refused += int((legal & ~goes).sum())
        admitted += int((~legal & goes).sum())
    # The class's spread is known from 400 cars only, which is worth a tenth.
    assert cost.refused_legal == pytest.approx(refused / 100, rel=0.12)
    assert cost.admitted_illegal == pytest.approx(admitted / 100, rel=0.2)


def test_what_cannot_be_told_is_left_out() -> None:
    few = np.array([1.0, 1.1, 1.2, 1.3])
    assert spread_of(few, np.full(4, 0.01)) is None
    assert spread_of(np.full(9, 1.0), np.full(9, 0.01)) is None
    narrow = SpreadLimits(lower=1.0, upper=1.04)
    accepted = accepted_by(
        DecisionRule.GUARDED_ACCEPTANCE, narrow, 0.0125, confidence=0.95
    )
    found = shares(normal_spread(1.02, 0.01), 0.0125, legal=narrow, accepted=accepted)
    assert found.admitted == 0
    assert math.isclose(found.refused_legal, found.legal)
