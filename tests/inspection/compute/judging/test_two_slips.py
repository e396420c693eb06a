"""
Two slips as evidence, beside the integral of the convolution and against simulation.

A flat error between the two slips (JCGM 100:2008, 4.3.7) and the slips' own normal
one: JCGM 101:2008, 6.4.2 and 9.2.4 for why a normal formula would not do.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from inspection.compute.judging import DecisionRule, Findings, Outcome, Rules, evaluate
from inspection.compute.judging.rooms import room
from inspection.compute.stance import BETWEEN, Field, is_value
from tests.inspection.compute.cars import LEVEL, make_field, make_rules

WORDS = tuple(Outcome)
# A slip's own error: permissible 0.01, flat, made a standard uncertainty.
SLIP = 0.01 / 3**0.5


def found_between(
    low: float,
    high: float,
    limits: tuple[float | None, float | None],
    *,
    rule: DecisionRule = DecisionRule.GUARDED_ACCEPTANCE,
    slip: float = SLIP,
) -> Findings:
    """Judge one car's rear clearance, read with two slips, as a seal keeps it."""
    return evaluate(*judged_field([(low, high)], limits, rule=rule, slip=slip))


def judged_field(
    pairs: list[tuple[float, float]],
    limits: tuple[float | None, float | None],
    *,
    rule: DecisionRule = DecisionRule.GUARDED_ACCEPTANCE,
    slip: float = SLIP,
) -> tuple[Rules, Field]:
    cars = [LEVEL | {"clearance_rear": round((a + b) / 2, 6)} for a, b in pairs]
    field = make_field(cars, also=["clearance_rear"])
    at = field.columns.index("clearance_rear")
    random, systematic = field.random.copy(), field.systematic.copy()
    random[:, at] = [round((b - a) / 12**0.5, 6) for a, b in pairs]
    systematic[:, at] = slip
    bound = np.zeros(field.value.shape, dtype=np.int8)
    bound[:, at] = BETWEEN
    field = replace(field, random=random, systematic=systematic, bound=bound)
    return make_rules(field, {"clearance_rear": limits}, decision_rule=rule), field


def beyond(distance: float, half: float, slip: float) -> float:
    """Integrate the normal tail over the flat part, by quadrature."""
    tail, _ = quad(lambda e: norm.sf(distance - e, scale=slip), -half, half)
    return float(tail) / (2 * half)


@pytest.mark.parametrize(
    ("low", "high", "limits", "outcome"),
    [
        (1.00, 1.02, (1.0, None), Outcome.PASS),
        (0.98, 1.00, (1.0, None), Outcome.FAIL),
        (0.98, 1.00, (None, 1.0), Outcome.PASS),
        (1.00, 1.02, (None, 1.0), Outcome.FAIL),
        (1.00, 1.02, (1.0, 2.0), Outcome.PASS),
        (1.98, 2.00, (1.0, 2.0), Outcome.PASS),
        (1.00, 2.00, (1.0, 2.0), Outcome.PASS),
        (0.98, 1.00, (1.0, 2.0), Outcome.FAIL),
        (0.396875, 0.4, (0.396875, None), Outcome.PASS),
    ],
)
@pytest.mark.parametrize("rule", list(DecisionRule))
def test_limit_slip_among_the_two_is_a_go_gauge(
    low: float,
    high: float,
    limits: tuple[float | None, float | None],
    outcome: Outcome,
    rule: DecisionRule,
) -> None:
    found = found_between(low, high, limits, rule=rule)
    assert WORDS[found.outcome[0, 0]] is outcome
    assert found.admitted[0, 0] == (outcome is Outcome.PASS)


def test_go_gauge_out_of_two_slips_says_its_side_and_no_probability() -> None:
    found = found_between(1.00, 1.02, (1.0, None))
    assert (found.bound[0, 0], found.value[0, 0]) == (1, 1.0)
    assert np.isnan(found.probability[0, 0])
    assert np.isnan(found.half_width[0, 0])


@pytest.mark.parametrize("slip", [SLIP, 0.001, 0.0, 0.03])
@pytest.mark.parametrize(("low", "high"), [(0.95, 1.05), (0.99, 1.09), (0.9, 1.01)])
@pytest.mark.parametrize("limits", [(1.0, None), (None, 1.0), (1.0, 1.08)])
def test_probability_is_that_of_the_convolution(
    low: float, high: float, limits: tuple[float | None, float | None], slip: float
) -> None:
    found = found_between(low, high, limits, slip=slip)
    middle, half = (low + high) / 2, (high - low) / 2
    outside = 0.0
    for limit, sign in zip(limits, (1, -1), strict=True):
        if limit is not None:
            outside += beyond(sign * (middle - limit), half, max(slip, 1e-6))
    # The spread is kept in whole 1e-6, and the tail moves by that over its width.
    assert found.probability[0, 0] == pytest.approx(1 - outside, abs=1e-4)


def test_no_normal_guard_band_is_taken_of_a_flat_spread() -> None:
    # 0.9 of the half width of a flat error leaves 5 % beyond: JCGM 100:2008, 4.3.7.
    found = found_between(0.98, 1.2, (1.0, None), slip=0.0)
    assert found.guard_band[0, 0] == pytest.approx(0.9 * 0.11, abs=1e-4)
    assert found.critical[0, 0] == pytest.approx(0.9 * 3**0.5, abs=1e-3)
    assert found.critical[0, 0] >= 0.9 * 3**0.5 - 1e-6


def test_risk_of_two_slips_is_the_stated_one() -> None:
    """
    Draw gaps about a limit: of those judged as pass, at most 5 in 100 are outside.

    200,000 gaps, any size alike likely, each between two neighbouring slips of a set
    that steps by 0.05, of which the limit's own is none.
    """
    chance = np.random.default_rng(14)
    limit, step, cars = 1.02, 0.05, 200_000
    true = chance.uniform(0.8, 1.3, cars)
    seen = true + chance.normal(0.0, SLIP, cars)
    low = np.floor(seen / step) * step
    whole, place = np.unique(np.round(low, 6), return_inverse=True)
    rules, field = judged_field([(a, a + step) for a in whole], (limit, None))
    found = evaluate(rules, field)
    code = found.outcome[place, 0]
    for value in np.unique(whole):
        here = np.round(low, 6) == value
        share = float((true[here] >= limit).mean())
        told = float(found.probability[whole == value, 0][0])
        assert share == pytest.approx(told, abs=0.01)
    passed = code == Outcome.PASS.code
    failed = code == Outcome.FAIL.code
    assert (true[passed] < limit).mean() <= 0.05
    assert (true[failed] >= limit).mean() <= 0.05
    assert passed.any()
    assert failed.any()


def test_room_of_two_slips_is_that_to_their_own_guard_band() -> None:
    rules, field = judged_field([(0.98, 1.2), (1.0, 1.2)], (1.0, None), slip=0.0)
    left = room(rules, field).room
    # The second went at the limit, and a go gauge has no guard band.
    mine = left[:, np.isfinite(left).all(axis=0)][:, 0]
    assert mine == pytest.approx([0.09 - 0.099, 0.0], abs=2e-4)


def test_what_lies_between_two_slips_is_a_value_to_compute_with() -> None:
    codes = np.array([0, 1, -1, 2], dtype=np.int8)
    assert is_value(codes).tolist() == [True, False, False, True]


def test_two_slips_of_one_size_are_a_plain_value() -> None:
    found = found_between(1.05, 1.05, (1.0, None))
    assert found.bound[0, 0] == 0
    assert np.isnan(found.half_width[0, 0])
    assert found.probability[0, 0] == pytest.approx(norm.cdf(0.05 / SLIP), abs=1e-6)
