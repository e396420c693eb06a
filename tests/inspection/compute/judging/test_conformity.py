"""
Judging by limits, against JCGM 106:2012 and against exact decimal arithmetic.

The second judge in here counts in whole 1e-6 with `decimal` and takes its normal
distribution from `statistics`: no code of the project's.
"""

import csv
import math
from decimal import ROUND_HALF_EVEN, Decimal
from pathlib import Path
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from inspection.compute.judging.conformity import (
    ConfidenceError,
    LimitsCrossedError,
    NoLimitError,
    conformance_probability,
    judge,
    no_value_passes,
)
from inspection.compute.judging.outcomes import DecisionRule, Outcome
from inspection.compute.judging.uncertainty import NegativeUncertaintyError

DATA = Path(__file__).parents[3] / "references" / "data"
NORMAL = NormalDist()
U = 0.0125
ADMITTED = {
    DecisionRule.SIMPLE_ACCEPTANCE: {Outcome.PASS, Outcome.CONDITIONAL_PASS},
    DecisionRule.GUARDED_ACCEPTANCE: {Outcome.PASS},
    DecisionRule.GUARDED_REJECTION: {
        Outcome.PASS,
        Outcome.CONDITIONAL_PASS,
        Outcome.CONDITIONAL_FAIL,
    },
}


def outcome_of(value: float, u: float = U, **limits: float) -> Outcome:
    return judge(value, u, **limits, rule=DecisionRule.SIMPLE_ACCEPTANCE).outcome


def test_words_are_exactly_the_agreed_ones_in_their_order() -> None:
    assert [str(word) for word in Outcome] == [
        "pass",
        "conditional pass",
        "conditional fail",
        "fail",
        "not measured",
        "not applicable",
    ]
    assert [word.code for word in Outcome] == [0, 1, 2, 3, 4, 5]
    assert [str(word) for word in DecisionRule] == [
        "simple acceptance",
        "guarded acceptance",
        "guarded rejection",
    ]


# Published values.


def jcgm106_examples() -> list[dict[str, str]]:
    text = (DATA / "jcgm106_specific.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()[1:]))


@pytest.mark.parametrize("row", jcgm106_examples(), ids=lambda row: row["example"])
def test_conformance_probability_of_the_published_examples(row: dict[str, str]) -> None:
    """JCGM 106:2012 7.3 and 7.4; C1-01 and C1-03."""
    found = conformance_probability(
        float(row["y"]),
        float(row["u"]),
        lower=float(row["T_L"]) if row["T_L"] else None,
        upper=float(row["T_U"]) if row["T_U"] else None,
    )
    assert f"{found:.2f}" == row["pc_published_rounded"]
    assert found == pytest.approx(float(row["pc_exact"]), rel=1e-12)


def test_conformance_probability_of_oil_outside_either_limit() -> None:
    """C1-02, computed with scipy 1.17.1 and suncal 1.7.1."""
    below = 1 - conformance_probability(13.6, 1.8, lower=12.5)
    above = 1 - conformance_probability(13.6, 1.8, upper=16.3)
    assert below == pytest.approx(0.27056301, abs=5e-9)
    assert above == pytest.approx(0.06680720, abs=5e-9)


@pytest.mark.parametrize(
    ("confidence", "quantile"),
    [
        (0.80, 0.841621),
        (0.90, 1.281552),
        (0.95, 1.644854),
        (0.99, 2.326348),
        (0.999, 3.090232),
    ],
)
def test_judge_guard_band_is_the_one_sided_quantile(
    confidence: float, quantile: float
) -> None:
    """JCGM 106:2012 Table 1; C1-04, C10-07."""
    rule = DecisionRule.GUARDED_ACCEPTANCE
    found = judge(5.0, 1.0, lower=0.0, rule=rule, confidence=confidence)
    assert found.guard_band == pytest.approx(quantile, abs=5e-7)


def test_judge_guard_band_at_the_default_confidence() -> None:
    """C1-23: 1.65 u, exactly 5 % at 1.644854 u (from memory of ISO 14253-1:2017)."""
    found = judge(0.0, 1.0, lower=0.0, rule=DecisionRule.SIMPLE_ACCEPTANCE)
    assert found.guard_band == pytest.approx(1.644854, abs=5e-7)
    risk = 1 - conformance_probability(1.644854, 1.0, lower=0.0)
    assert risk == pytest.approx(0.05, abs=1e-6)


@pytest.mark.parametrize(
    ("reading", "probability", "outcome"),
    [
        (1.00, 0.5, Outcome.CONDITIONAL_PASS),
        (1.01, 0.7881446, Outcome.CONDITIONAL_PASS),
        (1.02, 0.9452007, Outcome.CONDITIONAL_PASS),
        (1.03, 0.9918025, Outcome.PASS),
    ],
)
def test_judge_least_of_one_millimetre_table(
    reading: float, probability: float, outcome: Outcome
) -> None:
    """Table below C1-26, computed with scipy: guard band 0.0206, 1.02 undecided."""
    found = judge(reading, U, lower=1.0, rule=DecisionRule.GUARDED_ACCEPTANCE)
    assert found.probability == pytest.approx(probability, abs=5e-8)
    assert found.guard_band == pytest.approx(0.0206, abs=5e-5)
    assert found.outcome is outcome
    assert found.margin == pytest.approx(reading - 1.0, abs=1e-12)


# Each outcome by each decision rule, at the limit and one step either side.

G_STEPS = 20_561  # 1.6448536 * 0.0125 = 0.0205607 mm, in whole 1e-6
EDGES = [
    (G_STEPS + 1, Outcome.PASS),
    (G_STEPS, Outcome.PASS),
    (G_STEPS - 1, Outcome.CONDITIONAL_PASS),
    (1, Outcome.CONDITIONAL_PASS),
    (0, Outcome.CONDITIONAL_PASS),
    (-1, Outcome.CONDITIONAL_FAIL),
    (-G_STEPS + 1, Outcome.CONDITIONAL_FAIL),
    (-G_STEPS, Outcome.CONDITIONAL_FAIL),
    (-G_STEPS - 1, Outcome.FAIL),
]


@pytest.mark.parametrize("rule", DecisionRule)
@pytest.mark.parametrize(("steps", "outcome"), EDGES)
def test_judge_one_step_of_1e_6_decides_at_each_edge(
    steps: int, outcome: Outcome, rule: DecisionRule
) -> None:
    for limits, value in (
        ({"lower": 1.0}, 1.0 + steps * 1e-6),
        ({"upper": 2.0}, 2.0 - steps * 1e-6),
        ({"lower": 1.0, "upper": 2.0}, 1.0 + steps * 1e-6),
        ({"lower": 1.0, "upper": 2.0}, 2.0 - steps * 1e-6),
    ):
        found = judge(value, U, **limits, rule=rule)
        assert found.outcome is outcome
        assert found.admitted is (outcome in ADMITTED[rule])
        assert found.margin == pytest.approx(steps * 1e-6, abs=1e-15)


# Tyre 20.4 and a rear axle at 9.2 clear the block by 1.00, the limit.  The gauge's
# step is 0.01; u 0.0125 and so g 0.0206: two steps up is undecided, three a pass.
CARS = [
    (9.17, Outcome.PASS),
    (9.18, Outcome.CONDITIONAL_PASS),
    (9.19, Outcome.CONDITIONAL_PASS),
    (9.20, Outcome.CONDITIONAL_PASS),
    (9.21, Outcome.CONDITIONAL_FAIL),
    (9.22, Outcome.CONDITIONAL_FAIL),
    (9.23, Outcome.FAIL),
]


@pytest.mark.parametrize("rule", DecisionRule)
@pytest.mark.parametrize(("axle_height_mm", "outcome"), CARS)
def test_judge_car_one_gauge_step_about_its_limit(
    axle_height_mm: float, outcome: Outcome, rule: DecisionRule
) -> None:
    clearance = 20.4 / 2 - axle_height_mm
    found = judge(clearance, U, lower=1.0, rule=rule)
    assert found.outcome is outcome
    assert found.admitted is (outcome in ADMITTED[rule])


def test_judge_binary_fraction_at_the_limit_is_at_the_limit() -> None:
    clearance = 19.5 / 2 - 8.3
    assert clearance < 1.45  # 1.4499999999999993 in binary
    assert outcome_of(clearance, 0.0, lower=1.45) is Outcome.PASS
    assert outcome_of(clearance, 0.01, lower=1.45) is Outcome.CONDITIONAL_PASS
    assert outcome_of(0.1 + 0.2, 0.0, upper=0.3) is Outcome.PASS


@pytest.mark.parametrize(
    ("value", "limits", "outcome"),
    [
        (1.0, {"lower": 1.0}, Outcome.PASS),
        (0.999999, {"lower": 1.0}, Outcome.FAIL),
        (0.9999999, {"lower": 1.0}, Outcome.PASS),
        (1.0, {"upper": 1.0}, Outcome.PASS),
        (1.000001, {"upper": 1.0}, Outcome.FAIL),
        # Looked at: yes is 1, no is 0, and one of them is required.
        (1.0, {"lower": 1.0, "upper": 1.0}, Outcome.PASS),
        (0.0, {"lower": 1.0, "upper": 1.0}, Outcome.FAIL),
    ],
)
def test_judge_without_uncertainty_passes_or_fails(
    value: float, limits: dict[str, float], outcome: Outcome
) -> None:
    found = judge(value, 0.0, **limits, rule=DecisionRule.GUARDED_REJECTION)
    assert found.outcome is outcome
    assert found.guard_band == 0
    assert found.probability == (outcome is Outcome.PASS)


# A second judge.


def decimal_judge(
    value: Decimal, u: Decimal, lower: Decimal | None, upper: Decimal | None
) -> Outcome:
    step = Decimal("1e-6")
    quantile = Decimal(NORMAL.inv_cdf(0.95))
    guard = (quantile * u).quantize(step, rounding=ROUND_HALF_EVEN)
    margins = [
        *([] if lower is None else [value - lower]),
        *([] if upper is None else [upper - value]),
    ]
    margin = min(margins)
    if margin < -guard:
        return Outcome.FAIL
    if margin < 0:
        return Outcome.CONDITIONAL_FAIL
    inside = 1.0
    if len(margins) == 2 and u > 0:
        half = step / 2  # what rounding to 1e-6 can hide
        inside = sum(NORMAL.cdf(float((side + half) / u)) for side in margins) - 1
    if margin >= guard and inside >= 0.95:
        return Outcome.PASS
    return Outcome.CONDITIONAL_PASS


def micro(steps: int) -> Decimal:
    return Decimal(steps).scaleb(-6)


@settings(max_examples=300, deadline=None)
@given(
    value=st.integers(-100_000, 100_000),
    u=st.integers(0, 40_000),
    lower=st.integers(-60_000, 0) | st.none(),
    width=st.integers(0, 150_000) | st.none(),
)
def test_judge_agrees_with_exact_decimals(
    value: int, u: int, lower: int | None, width: int | None
) -> None:
    if lower is None and width is None:
        lower = 0
    upper = None if width is None else (lower or 0) + width
    limits = {"lower": lower, "upper": upper}
    exact = {key: None if k is None else micro(k) for key, k in limits.items()}
    near = {key: float(micro(k)) for key, k in limits.items() if k is not None}
    expected = decimal_judge(micro(value), micro(u), **exact)
    assert outcome_of(value / 1e6, u / 1e6, **near) is expected


@settings(max_examples=200, deadline=None)
@given(
    value=st.floats(-1.0, 1.0),
    u=st.floats(1e-3, 1.0),
    lower=st.floats(-1.0, 0.0),
    upper=st.floats(0.0, 1.0),
)
def test_conformance_probability_agrees_with_the_standard_library(
    value: float, u: float, lower: float, upper: float
) -> None:
    true_value = NormalDist(value, u)
    both = conformance_probability(value, u, lower=lower, upper=upper)
    # Values and limits are rounded to 1e-6: the density times that, twice.
    room = 2e-6 * true_value.pdf(value)
    expected = true_value.cdf(upper) - true_value.cdf(lower)
    assert both == pytest.approx(expected, abs=room)
    above = conformance_probability(value, u, lower=lower)
    assert above == pytest.approx(1 - true_value.cdf(lower), abs=room)


@pytest.mark.parametrize("sigmas", [5, 10, 30])
@pytest.mark.parametrize("upper", [None, 2.0])
def test_conformance_probability_keeps_its_digits_far_outside(
    sigmas: int, upper: float | None
) -> None:
    found = conformance_probability(1.0 - sigmas * 0.01, 0.01, lower=1.0, upper=upper)
    expected = math.erfc(sigmas / math.sqrt(2)) / 2
    assert found == pytest.approx(expected, rel=1e-9)


# Laws.

values = st.floats(-1.0, 1.0)
spreads = st.floats(0.0, 0.5)


def code_of(value: float, u: float, **limits: float) -> int:
    return outcome_of(value, u, **limits).code


@settings(deadline=None)
@given(values, values, spreads, st.sampled_from(DecisionRule))
def test_judge_better_value_is_never_worse(
    one: float, other: float, u: float, rule: DecisionRule
) -> None:
    low, high = sorted((one, other))
    worse = judge(low, u, lower=0.0, rule=rule)
    better = judge(high, u, lower=0.0, rule=rule)
    assert better.outcome.code <= worse.outcome.code
    assert better.admitted >= worse.admitted
    assert better.margin >= worse.margin
    assert better.probability >= worse.probability


@settings(deadline=None)
@given(values, spreads, st.floats(-0.5, 0.0), st.floats(0.0, 0.5), spreads)
@example(value=0.01, u=0.02, lower=0.0, upper=0.03, wider=0.01)
def test_judge_wider_limit_never_turns_a_pass_into_a_fail(
    value: float, u: float, lower: float, upper: float, wider: float
) -> None:
    before = code_of(value, u, lower=lower, upper=upper)
    assert code_of(value, u, lower=lower - wider, upper=upper) <= before
    assert code_of(value, u, lower=lower, upper=upper + wider) <= before
    assert code_of(value, u, lower=lower) <= before
    assert code_of(value, u, upper=upper) <= before


@settings(deadline=None)
@given(values, spreads, spreads, st.floats(0.0, 0.5) | st.none())
def test_judge_smaller_uncertainty_never_widens_the_undecided_band(
    value: float, one: float, other: float, upper: float | None
) -> None:
    smaller, larger = sorted((one, other))
    limits = {"lower": 0.0} if upper is None else {"lower": 0.0, "upper": upper}
    sure = {Outcome.PASS, Outcome.FAIL}
    before = outcome_of(value, larger, **limits)
    if before in sure:
        assert outcome_of(value, smaller, **limits) is before


@settings(deadline=None)
@given(values, spreads, st.floats(-0.5, 0.5))
def test_judge_lower_and_upper_mirror_each_other(
    value: float, u: float, limit: float
) -> None:
    assert code_of(value, u, lower=limit) == code_of(-value, u, upper=-limit)


# Two limits close together.


@pytest.mark.parametrize(
    ("width_u", "nothing_passes"),
    # 2 * 1.644854 = 3.2897: two guard bands.  2 * 1.959964 = 3.9199: the least
    # width whose middle is inside with 95 % (C10-07).
    [(1.0, True), (3.28, True), (3.30, True), (3.9198, True), (3.9201, False)],
)
def test_no_value_passes_as_a_search_of_all_values_finds(
    width_u: float,
    nothing_passes: bool,  # noqa: FBT001
) -> None:
    u = 0.0125
    upper = 1.0 + width_u * u
    assert no_value_passes(u, lower=1.0, upper=upper) is nothing_passes
    every = np.arange(1.0, upper, 1e-6)
    found = judge(every, u, lower=1.0, upper=upper, rule=DecisionRule.SIMPLE_ACCEPTANCE)
    assert (found.outcome != Outcome.PASS.code).all() == nothing_passes


def test_judge_between_close_limits_is_at_best_conditional() -> None:
    """3.5 u apart: the middle is clear of both guard bands, but 92 % is not 95 %."""
    found = judge(
        0.0, 1.0, lower=-1.75, upper=1.75, rule=DecisionRule.SIMPLE_ACCEPTANCE
    )
    assert found.margin > found.guard_band
    assert found.probability == pytest.approx(2 * NORMAL.cdf(1.75) - 1)
    assert found.outcome is Outcome.CONDITIONAL_PASS


def test_judge_acceptance_limit_rounded_inwards_is_a_pass_between_two_limits() -> None:
    """With u 0.011, g = 18093.39 steps, so 18093 is the limit, 0.4 short."""
    for limits in ({"lower": 1.0}, {"lower": 1.0, "upper": 3.0}):
        assert outcome_of(1.018093, 0.011, **limits) is Outcome.PASS
        assert outcome_of(1.018092, 0.011, **limits) is Outcome.CONDITIONAL_PASS


def test_judge_two_limits_takes_the_worse_side() -> None:
    limits = {"lower": 0.0, "upper": 10.0}
    found = judge(9.0, 1.0, **limits, rule=DecisionRule.SIMPLE_ACCEPTANCE)
    assert found.outcome is Outcome.CONDITIONAL_PASS
    assert found.margin == pytest.approx(1.0)
    beyond = judge(12.0, 1.0, **limits, rule=DecisionRule.SIMPLE_ACCEPTANCE)
    assert beyond.outcome is Outcome.FAIL
    assert beyond.margin == pytest.approx(-2.0)


def test_no_value_passes_looks_only_at_two_limits() -> None:
    found = no_value_passes(
        np.array([1.0, 1.0, 1.0, 0.0]),
        lower=np.array([0.0, 0.0, np.nan, 1.0]),
        upper=np.array([1.0, np.nan, 1.0, 1.0]),
    )
    assert found.tolist() == [True, False, False, False]


# Missing values, arrays and refusals.


@pytest.mark.parametrize("rule", DecisionRule)
@pytest.mark.parametrize(
    ("value", "u"), [(np.nan, 0.01), (1.5, np.nan), (np.inf, 0.01), (1.5, np.inf)]
)
def test_judge_missing_value_is_not_measured_and_never_admitted(
    value: float, u: float, rule: DecisionRule
) -> None:
    found = judge(value, u, lower=1.0, upper=2.0, rule=rule)
    assert found.outcome is Outcome.NOT_MEASURED
    assert found.admitted is False
    assert math.isnan(found.margin)
    assert math.isnan(found.probability)
    assert math.isnan(conformance_probability(value, u, lower=1.0))


@pytest.mark.parametrize("rule", DecisionRule)
def test_judge_array_equals_its_values_one_by_one(rule: DecisionRule) -> None:
    generator = np.random.default_rng(106)
    field = generator.normal(1.0, 0.04, (200, 4))
    field[generator.random(field.shape) < 0.1] = np.nan
    u = generator.uniform(0.0, 0.03, field.shape)
    lower = np.array([1.0, np.nan, 0.98, 1.0])
    upper = np.array([np.nan, 1.0, 1.02, 1.0])

    found = judge(field, u, lower=lower, upper=upper, rule=rule)

    assert found.outcome.dtype == np.int8
    assert found.admitted.dtype == np.bool_
    assert set(found.outcome.ravel().tolist()) == {0, 1, 2, 3, 4}
    words = tuple(Outcome)
    for car, column in np.ndindex(field.shape):
        one = judge(
            float(field[car, column]),
            float(u[car, column]),
            lower=float(lower[column]),
            upper=float(upper[column]),
            rule=rule,
        )
        at = (car, column)
        assert words[found.outcome[at]] is one.outcome
        assert found.admitted[at] == one.admitted
        for many, single in (
            (found.margin, one.margin),
            (found.guard_band, one.guard_band),
            (found.probability, one.probability),
        ):
            assert many[at] == pytest.approx(single, rel=1e-15, nan_ok=True)


def test_judge_scalars_give_plain_python_types() -> None:
    found: Any = judge(1.5, 0.1, lower=1.0, rule=DecisionRule.SIMPLE_ACCEPTANCE)
    assert type(found.outcome) is Outcome
    assert type(found.admitted) is bool
    numbers = (found.margin, found.guard_band, found.probability)
    assert [type(number) for number in numbers] == [float] * 3
    assert type(conformance_probability(1.5, 0.1, lower=1.0)) is float


def test_conformance_probability_array_keeps_its_shape() -> None:
    found = conformance_probability(np.array([[1.0, 2.0]]), 0.1, lower=1.0)
    np.testing.assert_allclose(found, [[0.5, 1.0]])


@pytest.mark.parametrize(
    ("limits", "u", "confidence", "refusal", "code"),
    [
        ({}, 0.1, 0.95, NoLimitError, "no_limit"),
        ({"lower": math.nan}, 0.1, 0.95, NoLimitError, "no_limit"),
        ({"lower": 2.0, "upper": 1.0}, 0.1, 0.95, LimitsCrossedError, "limits_crossed"),
        ({"lower": 1.0}, -0.1, 0.95, NegativeUncertaintyError, "negative_uncertainty"),
        ({"lower": 1.0}, 0.1, 1.0, ConfidenceError, "confidence_out_of_range"),
        ({"lower": 1.0}, 0.1, 0.49, ConfidenceError, "confidence_out_of_range"),
        ({"lower": 1.0}, 0.1, math.nan, ConfidenceError, "confidence_out_of_range"),
    ],
)
def test_judge_refuses_with_a_code(
    limits: dict[str, float],
    u: float,
    confidence: float,
    refusal: type[NoLimitError],
    code: str,
) -> None:
    rule = DecisionRule.SIMPLE_ACCEPTANCE
    with pytest.raises(refusal) as refused:
        judge(1.5, u, **limits, rule=rule, confidence=confidence)
    assert refused.value.code == code


def test_judge_one_rule_without_limits_spoils_the_field() -> None:
    with pytest.raises(NoLimitError):
        judge(
            np.ones((2, 2)),
            0.1,
            lower=np.array([1.0, np.nan]),
            rule=DecisionRule.SIMPLE_ACCEPTANCE,
        )


def test_judge_without_a_decision_rule_is_refused() -> None:
    """JCGM 106 and ISO/IEC 17025 7.8.6: the rule is stated; there is no default."""
    unruled: Any = judge
    with pytest.raises(TypeError):
        unruled(1.5, 0.1, lower=1.0)
