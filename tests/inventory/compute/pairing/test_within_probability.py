"""The chance that a pair is inside, against a normal law of another library."""

import math
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.pairing import NotADifferenceError, within_probability


@given(
    difference=st.floats(-0.3, 0.3),
    u=st.floats(0.001, 0.1),
    tolerance=st.floats(0, 0.3),
)
def test_chance_is_that_of_the_normal_law(
    difference: float, u: float, tolerance: float
) -> None:
    law = NormalDist(difference, u)
    expected = law.cdf(tolerance) - law.cdf(-tolerance)
    found = within_probability(difference, u, tolerance_mm=tolerance)
    assert found == pytest.approx(expected, abs=1e-12)


def test_two_readings_off_one_gauge_by_trial() -> None:
    # The systematic error is drawn too, and drops out of the difference.
    rng = np.random.default_rng(11)
    random, systematic = 0.012, 0.02
    shared = rng.uniform(-systematic, systematic, 400_000)
    one = 18.04 + shared + rng.normal(0, random, shared.size)
    two = 18.00 + shared + rng.normal(0, random, shared.size)
    inside = np.mean(np.abs(one - two) <= 0.05)
    u = math.hypot(random, random)
    chance = within_probability(0.04, u, tolerance_mm=0.05)
    # Five standard errors of a share near 0.72 in 400,000.
    assert inside == pytest.approx(chance, abs=5 * math.sqrt(0.2 / 400_000))


@pytest.mark.parametrize(
    ("difference", "inside"), [(20.1 - 20.0, 1.0), (20.0 - 20.1, 1.0), (0.1001, 0.0)]
)
def test_without_uncertainty_it_is_inside_or_not(
    difference: float, inside: float
) -> None:
    assert within_probability(difference, 0.0, tolerance_mm=0.1) == inside


def test_arrays_in_arrays_out() -> None:
    chance = within_probability(
        np.array([0.0, 0.05, 0.1]), np.array([0.01, 0.0, 0.01]), tolerance_mm=0.05
    )
    assert isinstance(chance, np.ndarray)
    assert chance == pytest.approx([1 - 5.733e-7, 1, 2.867e-7], abs=1e-9)
    assert isinstance(within_probability(0.0, 0.01, tolerance_mm=0.05), float)


@pytest.mark.parametrize(
    ("difference", "u", "tolerance"),
    [
        (math.nan, 0.01, 0.05),
        (0.01, math.inf, 0.05),
        (0.01, -0.01, 0.05),
        (0.01, 0.01, -0.05),
        (0.01, 0.01, math.nan),
        ([0.01, math.inf], 0.01, 0.05),
    ],
)
def test_what_is_no_difference_is_refused(
    difference: Any, u: float, tolerance: float
) -> None:
    with pytest.raises(NotADifferenceError):
        within_probability(difference, u, tolerance_mm=tolerance)
