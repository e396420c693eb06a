"""Trials of rules on many cars: brute force over every limit, and laws."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspection.compute.judging.evaluation import evaluate
from inspection.compute.judging.outcomes import DecisionRule, Outcome, admits
from inspection.compute.judging.rule_arrays import Rules, RulesShapeError
from inspection.compute.rulebooks.trials import (
    AdmittingLimit,
    Bound,
    CarFound,
    ShareError,
    admitting_limit,
    bins_of,
    found_of_cars,
    outcome_counts,
)
from inspection.compute.stance.fields import Field
from tests.inspection.compute.cars import LEVEL, make_field, make_rules

PASS, CONDITIONAL_PASS, _, FAIL, NOT_MEASURED, NOT_APPLICABLE = (
    outcome.code for outcome in Outcome
)


def weights(*grams: float, u: float = 0.0, bound: tuple[int, ...] = ()) -> Field:
    value = np.array([grams]).T
    return Field(
        columns=("weight_car",),
        value=value,
        random=np.full_like(value, u),
        systematic=np.zeros_like(value),
        gauge=np.full(value.shape, -1),
        bound=np.array([bound], dtype=np.int8).T if bound else None,
    )


def one_rule(
    field: Field,
    lower: float | None,
    upper: float | None,
    *,
    decision_rule: DecisionRule = DecisionRule.SIMPLE_ACCEPTANCE,
) -> Rules:
    return make_rules(
        field, [("weight_car", lower, upper)], decision_rule=decision_rule
    )


def admitted_by(rules: Rules, field: Field, bound: Bound, limit: float) -> int:
    if bound is Bound.LOWER:
        changed = replace(rules, lower=np.array([limit]))
    else:
        changed = replace(rules, upper=np.array([limit]))
    return int(np.sum(evaluate(changed, field).admitted))


def brute_force(
    rules: Rules, field: Field, bound: Bound, *, wanted: int, decimals: int
) -> float | None:
    """Try every limit of the grid about the cars, the strictest first."""
    other = float(rules.upper[0] if bound is Bound.LOWER else rules.lower[0])
    scale = 10.0**decimals
    grid = [step / scale for step in range(70 * 10**decimals, 95 * 10**decimals)]
    if bound is Bound.LOWER:
        grid.reverse()
    for limit in grid:
        crossed = limit > other if bound is Bound.LOWER else limit < other
        if not crossed and admitted_by(rules, field, bound, limit) >= wanted:
            return limit
    return None


@settings(max_examples=30)
@given(
    tenths=st.lists(st.integers(780, 860), min_size=1, max_size=12),
    u=st.sampled_from([0.0, 0.2, 0.5]),
    decision_rule=st.sampled_from(DecisionRule),
    bound=st.sampled_from(Bound),
    other=st.sampled_from([None, 79.5, 83.0]),
    share=st.sampled_from([0.5, 0.95, 1.0]),
)
def test_admitting_limit_is_the_strictest_of_all(
    tenths: list[int],
    u: float,
    decision_rule: DecisionRule,
    bound: Bound,
    other: float | None,
    share: float,
) -> None:
    field = weights(*(value / 10 for value in tenths), u=u)
    lower, upper = (80.0, other) if bound is Bound.LOWER else (other, 85.0)
    if lower is not None and upper is not None and lower > upper:
        lower, upper = upper, lower
    rules = one_rule(field, lower, upper, decision_rule=decision_rule)
    found = admitting_limit(rules, field, bound=bound, share=share, decimals=1)
    wanted = -(-round(share * 100) * len(tenths) // 100)
    expected = brute_force(rules, field, bound, wanted=wanted, decimals=1)
    assert found.measured == len(tenths)
    assert found.limit == expected
    if expected is not None:
        assert found.admitted == admitted_by(rules, field, bound, expected)
        assert found.admitted >= wanted


def test_ninety_five_of_a_hundred_weights_by_hand() -> None:
    """Weights 80.00, 80.01 … 80.99: five of them lie under 80.05."""
    field = weights(*(80 + k / 100 for k in range(100)))
    found = admitting_limit(
        one_rule(field, 80.5, None), field, bound=Bound.LOWER, share=0.95, decimals=2
    )
    assert found == AdmittingLimit(limit=80.05, admitted=95, measured=100)


def test_no_lower_limit_helps_where_the_upper_one_refuses_too_many() -> None:
    field = weights(80.0, 90.0, 91.0)
    rules = one_rule(field, 79.0, 85.0)
    found = admitting_limit(rules, field, bound=Bound.LOWER, share=0.9, decimals=2)
    assert found == AdmittingLimit(limit=None, admitted=0, measured=3)


def test_cars_that_were_not_measured_are_not_counted() -> None:
    field = weights(80.0, np.nan, 82.0)
    found = admitting_limit(
        one_rule(field, 81.0, None), field, bound=Bound.LOWER, share=1.0, decimals=1
    )
    assert found == AdmittingLimit(limit=80.0, admitted=2, measured=2)


def test_no_car_measured_gives_no_limit() -> None:
    field = weights(np.nan, np.nan)
    found = admitting_limit(
        one_rule(field, 81.0, None), field, bound=Bound.LOWER, share=0.5, decimals=1
    )
    assert found == AdmittingLimit(limit=None, admitted=0, measured=0)


def test_go_gauge_admits_only_where_its_answer_is_enough() -> None:
    """Over 80, over 81, and one under 82: 80 admits the first two of three."""
    field = weights(80.0, 81.0, 82.0, bound=(1, 1, -1))
    rules = one_rule(field, 80.0, None)
    two = admitting_limit(rules, field, bound=Bound.LOWER, share=0.6, decimals=0)
    assert two == AdmittingLimit(limit=80.0, admitted=2, measured=3)
    all_three = admitting_limit(rules, field, bound=Bound.LOWER, share=1.0, decimals=0)
    assert all_three.limit is None


def test_worst_place_of_a_car_decides() -> None:
    """Two tyres a car; the smaller one has to be admitted."""
    sizes = [(20.0, 19.5), (19.8, 20.2), (20.1, 20.1), (20.3, 19.9)]
    field = make_field(
        [
            LEVEL | {"tyre_diameter_rear_left": left, "tyre_diameter_rear_right": right}
            for left, right in sizes
        ],
        random=0.0,
        systematic=0.0,
    )
    rules = make_rules(field, [("tyre_diameter_rear", 20.0, None)])
    found = admitting_limit(rules, field, bound=Bound.LOWER, share=0.75, decimals=2)
    assert found == AdmittingLimit(limit=19.8, admitted=3, measured=4)


@pytest.mark.parametrize("share", [0.0, -0.1, 1.01, np.nan])
def test_share_out_of_range_is_refused(share: float) -> None:
    field = weights(80.0)
    with pytest.raises(ShareError):
        admitting_limit(
            one_rule(field, 80, None),
            field,
            bound=Bound.LOWER,
            share=share,
            decimals=1,
        )


def test_two_rules_are_refused() -> None:
    field = weights(80.0)
    two = make_rules(field, [("weight_car", 80, None), ("weight_car", None, 90)])
    with pytest.raises(RulesShapeError):
        admitting_limit(two, field, bound=Bound.LOWER, share=0.5, decimals=1)


def test_car_is_refused_by_one_rule_whatever_was_not_measured() -> None:
    outcome = np.array(
        [
            [PASS, CONDITIONAL_PASS, FAIL],
            [PASS, NOT_MEASURED, FAIL],
            [FAIL, NOT_MEASURED, PASS],
            [NOT_APPLICABLE, NOT_APPLICABLE, NOT_MEASURED],
        ],
        dtype=np.int8,
    )
    admitted = admits(outcome, DecisionRule.SIMPLE_ACCEPTANCE)
    advisory_last = np.array([True, True, False])
    found = found_of_cars(outcome, admitted, advisory_last)
    assert [tuple(CarFound)[code].value for code in found] == [
        "admitted",
        "not measured",
        "refused",
        "admitted",
    ]


@given(
    st.sampled_from(DecisionRule),
    st.lists(st.floats(79, 81), min_size=1, max_size=8),
)
def test_admitted_outcomes_are_those_that_judging_admits(
    decision_rule: DecisionRule, grams: list[float]
) -> None:
    field = weights(*grams, np.nan, u=0.2)
    found = evaluate(one_rule(field, 80, None, decision_rule=decision_rule), field)
    assert (admits(found.outcome, decision_rule) == found.admitted).all()


@given(
    st.integers(1, 4).flatmap(
        lambda rules: st.lists(
            st.lists(st.integers(0, 5), min_size=rules, max_size=rules), min_size=1
        )
    )
)
def test_outcomes_are_counted_one_by_one(rows: list[list[int]]) -> None:
    counts = outcome_counts(np.array(rows, dtype=np.int8))
    for rule in range(len(rows[0])):
        column = [row[rule] for row in rows]
        assert counts[rule].tolist() == [column.count(code) for code in range(6)]


@given(
    st.lists(st.integers(-3000, 200_000), min_size=1, max_size=60),
    st.integers(0, 3),
)
def test_bars_hold_every_value_between_their_edges(
    whole: list[int], decimals: int
) -> None:
    values = np.array(whole) / 10**decimals
    bins = bins_of(np.append(values, np.nan), decimals=decimals)
    assert 1 <= len(bins.counts) <= 30
    assert sum(bins.counts) == len(whole)
    edges = np.array(bins.edges)
    # The last bar of numpy's own is closed; a value never stands on its far edge.
    assert np.histogram(values, bins=edges)[0].tolist() == list(bins.counts)
    width = round((edges[1] - edges[0]) * 10**decimals)
    assert str(width).rstrip("0") in {"1", "2", "5"}


def test_no_value_gives_no_bar() -> None:
    assert bins_of(np.array([np.nan]), decimals=2).counts == ()
