"""Two sets of readings, against an independent uncertainty library."""

import math

import GTC
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.measuring.conflicts import set_difference, sets_disagree
from inventory.compute.measuring.gauges import Gauge
from inventory.compute.measuring.readings import (
    Estimate,
    GoGauge,
    go_gauge,
    interval_estimate,
)

parts = st.integers(1, 100).map(lambda um: um / 1000)
values = st.integers(1000, 3000).map(lambda step: step / 100)


def made(value: float, random: float, systematic: float) -> Estimate:
    return Estimate(value=value, random=random, systematic=systematic, count=3)


@given(values, values, parts, parts, parts)
def test_one_gauge_agrees_with_gtc(
    first: float, second: float, u_first: float, u_second: float, u_gauge: float
) -> None:
    error = GTC.ureal(0, u_gauge)
    difference = (GTC.ureal(second, u_second) + error) - (
        GTC.ureal(first, u_first) + error
    )
    found = set_difference(
        made(first, u_first, u_gauge), made(second, u_second, u_gauge), same_gauge=True
    )
    assert found.value == pytest.approx(GTC.value(difference), abs=1e-12)
    assert found.standard_uncertainty == pytest.approx(GTC.uncertainty(difference))


@given(values, values, parts, parts, parts, parts)
def test_two_gauges_agree_with_gtc(
    first: float,
    second: float,
    u_first: float,
    u_second: float,
    u_gauge: float,
    u_other: float,
) -> None:
    difference = (GTC.ureal(second, u_second) + GTC.ureal(0, u_other)) - (
        GTC.ureal(first, u_first) + GTC.ureal(0, u_gauge)
    )
    found = set_difference(
        made(first, u_first, u_gauge), made(second, u_second, u_other), same_gauge=False
    )
    assert found.standard_uncertainty == pytest.approx(GTC.uncertainty(difference))


@pytest.mark.parametrize(
    ("second", "conflict"),
    [(12.34, False), (12.44, False), (12.440001, True), (12.24, False), (12.23, True)],
)
def test_twice_the_uncertainty_is_no_conflict_yet(
    second: float, *, conflict: bool
) -> None:
    # hypot(0.03, 0.04) is 0.05, so the edge is at 0.10.
    found = set_difference(
        made(12.34, 0.03, 0.02), made(second, 0.04, 0.02), same_gauge=True
    )
    assert found.conflict is conflict


SLIPS = Gauge(resolution=0.0, max_permissible_error=0.005, repeatability=0.0)


def slip(size: float, *, goes: bool) -> GoGauge:
    return go_gauge(size, goes, SLIPS)


@pytest.mark.parametrize("goes", [True, False])
def test_size_and_slip_disagree_in_few_of_the_cases_that_are_consistent(
    *, goes: bool
) -> None:
    # Drawn gaps beside a slip of 1.00: at the slip's size, the worst, twice the
    # uncertainty to one side is left in 2.3 of 100 cases.
    rng = np.random.default_rng(2)
    u_read = math.hypot(0.012, 0.008)
    read = rng.normal(1.0, u_read, 20_000) + rng.uniform(-0.005, 0.005, 20_000)
    found = [
        sets_disagree(made(value, 0.012, 0.008), slip(1.0, goes=goes), same_gauge=False)
        for value in read.tolist()
    ]
    assert np.mean(found) == pytest.approx(0.0228, abs=0.004)


@pytest.mark.parametrize(
    ("value", "goes", "clash"),
    [
        (0.90, True, True),
        (0.90, False, False),
        (1.10, False, True),
        (1.10, True, False),
    ],
)
def test_slip_and_caliper_are_set_against_each_other(
    value: float, *, goes: bool, clash: bool
) -> None:
    read, tried = made(value, 0.01, 0.01), slip(1.0, goes=goes)
    assert sets_disagree(read, tried, same_gauge=False) is clash
    assert sets_disagree(tried, read, same_gauge=False) is clash


@pytest.mark.parametrize(
    ("low", "high", "clash"), [(0.98, 1.00, False), (1.10, 1.12, True)]
)
def test_two_slips_and_caliper_are_too(low: float, high: float, *, clash: bool) -> None:
    between = interval_estimate(low, high, SLIPS)
    read = made(1.0, 0.01, 0.01)
    assert sets_disagree(between, read, same_gauge=False) is clash


@pytest.mark.parametrize(
    ("goes", "stops", "clash"),
    [(1.0, 1.0, True), (1.02, 1.0, True), (0.98, 1.0, False)],
)
def test_slip_that_goes_and_one_that_does_not(
    goes: float, stops: float, *, clash: bool
) -> None:
    one, other = slip(goes, goes=True), slip(stops, goes=False)
    assert sets_disagree(one, other, same_gauge=True) is clash
    assert sets_disagree(other, one, same_gauge=True) is clash
    assert not sets_disagree(one, slip(0.5, goes=True), same_gauge=True)


def test_estimates_are_compared_as_estimates() -> None:
    first, second = made(12.34, 0.01, 0.01), made(12.38, 0.01, 0.01)
    assert sets_disagree(first, second, same_gauge=True)
    assert not sets_disagree(first, second, same_gauge=False)
