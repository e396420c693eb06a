"""The chance that a whole set is inside, against drawn sets and another integral."""

import math
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.stats import norm

from inventory.compute.pairing import (
    Asked,
    Bag,
    NotADifferenceError,
    PairingWay,
    RejectLimits,
    pair_bag,
    range_probability,
    within_probability,
)

TRIALS = 200_000


def drawn(
    size: NDArray[np.float64], u: NDArray[np.float64], tolerance: float, seed: int
) -> float:
    """Share of drawn sets that truly keep the tolerance."""
    true = np.random.default_rng(seed).normal(size, u, (TRIALS, size.size))
    return float(np.mean(np.ptp(true, axis=1) <= tolerance + 1e-12))


def unlike_sets(count: int) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    rng = np.random.default_rng(count)
    return [
        (
            rng.normal(18.9, 0.01, count),
            rng.choice([0.0, 0.001, 0.004, 0.012, 0.05], count),
        )
        for _ in range(6)
    ]


@pytest.mark.parametrize("count", [2, 3, 4, 6])
@pytest.mark.parametrize("tolerance", [0.01, 0.03, 0.1])
def test_chance_is_the_share_of_drawn_sets(count: int, tolerance: float) -> None:
    for seed, (size, u) in enumerate(unlike_sets(count)):
        found = float(range_probability([size], [u], tolerance_mm=tolerance)[0])
        share = drawn(size, u, tolerance, seed)
        # Five standard errors, at the share or at the chance.
        error = math.sqrt(max(found * (1 - found), share * (1 - share)) / TRIALS)
        assert share == pytest.approx(found, abs=5 * error + 1e-5), (size, u)


@pytest.mark.parametrize("count", [2, 4, 12])
def test_chance_is_that_of_an_adaptive_integral(count: int) -> None:
    rng = np.random.default_rng(count)
    for _ in range(5):
        size, u = rng.normal(18.9, 0.02, count), rng.uniform(0.003, 0.03, count)

        def smallest_at(
            x: float, size: NDArray[np.float64] = size, u: NDArray[np.float64] = u
        ) -> float:
            inside = norm.cdf(x + 0.06, size, u) - norm.cdf(x, size, u)
            density = norm.pdf(x, size, u)
            return float(
                sum(density[i] * np.delete(inside, i).prod() for i in range(len(size)))
            )

        ends = (size - 9 * u).min(), (size + 9 * u).max()
        expected = quad(smallest_at, *ends, limit=500, epsabs=1e-11)[0]
        found = range_probability([size], [u], tolerance_mm=0.06)
        assert found[0] == pytest.approx(expected, abs=1e-8)


def test_chance_is_the_studentised_range_of_equals() -> None:
    # SciPy's studentised range at a great many degrees of freedom is the range of
    # k standard normals; Pearson and Hartley's table 22 has 3.633 at 95 % for k = 4.
    found = range_probability([[20.0] * 4], [[0.01] * 4], tolerance_mm=0.03633)
    assert found[0] == pytest.approx(0.95, abs=5e-5)


def test_of_two_it_is_the_chance_of_their_difference() -> None:
    rng = np.random.default_rng(3)
    size = rng.normal(20, 0.02, (50, 2))
    u = rng.choice([0.0, 0.002, 0.02], (50, 2))
    pair = within_probability(
        size[:, 1] - size[:, 0], np.hypot(*u.T), tolerance_mm=0.03
    )
    assert range_probability(size, u, tolerance_mm=0.03) == pytest.approx(
        pair, abs=1e-9
    )


def test_exact_sizes_are_inside_or_not() -> None:
    edge = [[20.0, 20.05, 20.1], [20.0, 20.05, 20.1001]]
    found = range_probability(edge, np.zeros((2, 3)), tolerance_mm=0.1)
    assert found.tolist() == [1.0, 0.0]
    none = range_probability(np.empty((0, 4)), np.empty((0, 4)), tolerance_mm=0.1)
    assert none.shape == (0,)


def test_set_of_a_bag_has_the_chance_of_the_whole_set() -> None:
    # Four alike, u 0.0104 each: the largest and the smallest read would be inside
    # in 82 of 100, all four truly are in 45.
    size, u = np.array([18.887, 18.887, 18.890, 18.890]), np.full(4, 0.0104)
    tyres = Bag(
        diameter_mm=size,
        random_mm=u,
        reading_count=np.full(4, 3),
        features={},
        words={},
    )
    limits = RejectLimits(low_mm=8, high_mm=32)
    asked = Asked(way=PairingWay.SETS, tolerance_um=20, limits=limits)
    chance = pair_bag(tyres, asked).probability[0]
    share = drawn(size, u, 0.02, 9)
    assert chance == pytest.approx(share, abs=5 * math.sqrt(0.25 / TRIALS))
    ends = within_probability(0.003, float(np.hypot(u[0], u[3])), tolerance_mm=0.02)
    assert ends - share > 0.3


@pytest.mark.parametrize(
    ("size", "u", "tolerance"),
    [
        ([[20.0, math.nan]], [[0.1, 0.1]], 0.1),
        ([[20.0, 20.0]], [[0.1, -0.1]], 0.1),
        ([[20.0, 20.0]], [[0.1, 0.1]], -0.1),
        ([[20.0, 20.0]], [[0.1, 0.1, 0.1]], 0.1),
        ([20.0, 20.0], [0.1, 0.1], 0.1),
        ([[20.0, 20.0], [20.0]], [[0.1, 0.1]], 0.1),
    ],
)
def test_what_is_no_set_is_refused(size: Any, u: Any, tolerance: float) -> None:
    with pytest.raises(NotADifferenceError):
        range_probability(size, u, tolerance_mm=tolerance)
