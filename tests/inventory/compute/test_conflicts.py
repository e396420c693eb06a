"""Two sets of readings, against an independent uncertainty library."""

import GTC
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.conflicts import set_difference
from inventory.compute.measuring import Estimate

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
