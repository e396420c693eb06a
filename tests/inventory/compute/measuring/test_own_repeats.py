"""A person's own repeatability: coverage in simulation, and what counts when."""

import numpy as np
import pytest
from scipy import stats

from inventory.compute.measuring.gauges import Gauge
from inventory.compute.measuring.own_repeats import (
    ENOUGH_REPEATS,
    OwnScatter,
    estimate_by_own,
    own_scatter,
    own_scatter_of_tyre,
)

USUAL = 0.03
CALIPER = Gauge(resolution=0.01, max_permissible_error=0.02, repeatability=USUAL)
BARE = Gauge(resolution=0.0, max_permissible_error=0.0, repeatability=USUAL)


def coverage(truth: float, *, repeats: int, size: int, people: int, seed: int) -> float:
    """Share of sets whose mean is within 1.96 u, of people who scatter by ``truth``."""
    rng = np.random.default_rng(seed)
    inside = 0
    for _ in range(people):
        before = rng.normal(0.0, truth, (repeats, 2))
        own = own_scatter(before.tolist(), is_round=False)
        read = rng.normal(0.0, truth, size)
        made = estimate_by_own(read.tolist(), BARE, own, is_round=False)
        inside += abs(made.value) <= 1.959964 * made.random
    return inside / people


@pytest.mark.parametrize("size", [1, 3])
@pytest.mark.parametrize("times", [0.5, 1.0, 2.0])
def test_thirty_repeats_cover_95_of_100(times: float, size: int) -> None:
    # 95 within 2, be they twice as careful or twice as scattered as the registry says.
    people = 4_000
    found = coverage(
        times * USUAL, repeats=ENOUGH_REPEATS, size=size, people=people, seed=14
    )
    assert found == pytest.approx(0.95, abs=0.02)


@pytest.mark.long
@pytest.mark.parametrize("size", [1, 2, 5])
@pytest.mark.parametrize("times", [0.5, 0.7, 1.0, 1.4, 2.0])
@pytest.mark.parametrize("repeats", [30, 100])
def test_coverage_of_many(times: float, size: int, repeats: int) -> None:
    found = coverage(times * USUAL, repeats=repeats, size=size, people=10_000, seed=15)
    assert found == pytest.approx(0.95, abs=0.02)


def test_registry_alone_covers_too_few_of_who_is_scattered() -> None:
    # What u was before: 1.96 * 0.03 against 0.06 covers 67 of 100.
    found = coverage(0.06, repeats=0, size=1, people=6_000, seed=16)
    assert found == pytest.approx(2 * stats.norm.cdf(0.98) - 1, abs=0.02)


def test_before_there_are_thirty_the_larger_counts() -> None:
    careful = OwnScatter(repeats=29, squares=29 * 0.015**2)
    scattered = OwnScatter(repeats=10, squares=10 * 0.06**2)
    assert careful.counts_as(USUAL) == USUAL
    # (0.03^2 + 10 * 0.06^2) / 11, worked by hand.
    assert scattered.counts_as(USUAL) == pytest.approx((0.0369 / 11) ** 0.5)
    more = careful + OwnScatter(repeats=1, squares=0.015**2)
    assert more.is_enough
    assert more.counts_as(USUAL) < 0.017


def test_pooled_is_that_of_the_guide() -> None:
    # JCGM 100:2008 4.2.4: sets of 2, 3 and 4, pooled by their degrees of freedom;
    # against scipy's one-way layout, its mean square within.
    rng = np.random.default_rng(3)
    sets = [rng.normal(20 + n, 0.02, n).tolist() for n in (2, 3, 4)]
    own = own_scatter([*sets, [5.0]], is_round=False)
    within = sum(np.var(one, ddof=1) * (len(one) - 1) for one in sets) / 6
    assert own.repeats == 6
    assert own.squares / own.repeats == pytest.approx(within)


def test_form_is_no_scatter() -> None:
    # Three angles of an oval tyre, each read twice: the repeats alone.
    oval = [20.0, 20.2, 19.9, 20.02, 20.18, 19.9]
    own = own_scatter([oval], is_round=True)
    assert own.repeats == 3
    assert own.squares == pytest.approx(2 * 0.01**2 + 2 * 0.01**2)
    assert own_scatter([oval], is_round=False).repeats == 5
    # Sections by angles: what neither a cone nor lobes explain.  Patsy-free check by
    # least squares on indicator columns.
    rng = np.random.default_rng(5)
    table = 20 + rng.normal(0, 0.02, (3, 3)) + np.array([[0], [0.3], [0.5]])
    columns = [np.repeat(np.eye(3)[k], 3) for k in range(3)]
    columns += [np.tile(np.eye(3)[k], 3) for k in range(2)]
    _, squares, rank, _ = np.linalg.lstsq(
        np.column_stack(columns), table.ravel(), rcond=None
    )
    found = own_scatter_of_tyre(table.tolist())
    assert found.repeats == 9 - rank
    assert found.squares == pytest.approx(float(squares[0]))


def test_set_that_scatters_as_none_does_speaks_for_itself() -> None:
    own = OwnScatter(repeats=200, squares=200 * 0.01**2)
    usual = estimate_by_own([1.00, 1.02], CALIPER, own, is_round=False)
    wild = estimate_by_own([1.00, 1.10], CALIPER, own, is_round=False)
    assert usual.random < 0.0085
    # The standard deviation of the two over the root of two.
    assert wild.random == pytest.approx(np.hypot(0.05, 0.01 / 12**0.5), rel=1e-6)
