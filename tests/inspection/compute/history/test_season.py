"""A season's figures, against published results and independent libraries."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import linregress

from inspection.compute.history.season import Repeats, medians, repeats, wear_a_night

DATA = Path(__file__).parents[3] / "references" / "data"


def aiag() -> list[tuple[int, int, float]]:
    """Part, appraiser, value: 90 readings, each part thrice by each of three."""
    lines = (DATA / "aiag_msa_grr_90.csv").read_text("utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [
        (int(row["part"]) - 1, "ABC".index(row["appraiser"]), float(row["value"]))
        for row in rows
    ]


def sets_of(person: int | None = None) -> list[list[float]]:
    """Give the study's sets, of all or of one appraiser."""
    sets: dict[tuple[int, int], list[float]] = {}
    for part, by, value in aiag():
        if person is None or by == person:
            sets.setdefault((part, by), []).append(value)
    return list(sets.values())


def test_repeats_of_published_study_pool_to_its_error() -> None:
    """Sum of squares 2.7589 of 60 degrees of freedom (C4-01, C4-02), EV C4-11."""
    found = repeats(sets_of())
    assert (found.sets, found.degrees_of_freedom) == (30, 60)
    # Printed with four decimals of a sum, and with six digits.
    assert found.squares == pytest.approx(2.7589, abs=5e-5)
    assert found.standard_deviation == pytest.approx(0.214435, abs=5e-7)


def test_repeats_of_each_appraiser_pool_to_the_mean_variance_of_their_sets() -> None:
    """Sets of one size: the pooled variance is the mean of numpy's variances."""
    for person in range(3):
        found = repeats(sets_of(person))
        mean = np.mean([np.var(one, ddof=1) for one in sets_of(person)])
        assert found.standard_deviation == pytest.approx(math.sqrt(mean))


def test_repeats_of_appraisers_add_up_to_those_of_all() -> None:
    added = sum((repeats(sets_of(person)) for person in range(3)), Repeats())
    together = repeats(sets_of())
    assert (added.sets, added.degrees_of_freedom) == (30, 60)
    assert added.squares == pytest.approx(together.squares)


def test_spread_over_its_own_is_one_and_over_nothing_says_nothing() -> None:
    found = repeats(sets_of())
    assert found.over(found).standard_deviation == pytest.approx(1.0)
    # Twice the distances are twice the spread.
    doubled = repeats([[2 * one for one in some] for some in sets_of()])
    assert doubled.over(found).standard_deviation == pytest.approx(2.0)
    assert found.over(repeats([[5.0, 5.0]])) == Repeats()


def test_single_reading_says_nothing_of_repeats() -> None:
    found = repeats([[1.0], [2.0]])
    assert found == Repeats()
    assert math.isnan(found.standard_deviation)


@given(
    st.lists(
        st.tuples(st.integers(0, 3), st.floats(-100, 100)), min_size=1, max_size=40
    )
)
def test_medians_agree_with_numpy_group_by_group(
    rows: list[tuple[int, float]],
) -> None:
    group = np.array([where for where, _ in rows])
    values = np.array([value for _, value in rows])
    found = medians(values, group, groups=5)
    for where in range(5):
        own = values[group == where]
        assert found.count[where] == len(own)
        if len(own):
            assert found.median[where] == pytest.approx(np.median(own), abs=1e-12)
            assert found.least[where] == own.min()
        else:
            assert np.isnan(found.median[where])
            assert np.isnan(found.least[where])


@given(
    st.lists(
        st.tuples(st.integers(0, 2), st.integers(0, 12), st.integers(17_000, 21_000)),
        min_size=1,
        max_size=40,
    )
)
def test_wear_is_the_slope_of_scipy(rows: list[tuple[int, int, int]]) -> None:
    tyre = np.array([row[0] for row in rows])
    nights = np.array([float(row[1]) for row in rows])
    size = np.array([row[2] / 1000 for row in rows])
    found = wear_a_night(size, nights, tyre, tyres=4)
    for one in range(4):
        own = tyre == one
        if len(set(nights[own].tolist())) < 2:
            assert np.isnan(found.a_night[one])
            assert found.nights[one] == 0
        else:
            line = linregress(nights[own], size[own])
            # Sums of 40 numbers of some 20 mm: 1e-9 is a thousand roundings.
            assert found.a_night[one] == pytest.approx(-line.slope, abs=1e-9)
            assert found.nights[one] == np.ptp(nights[own])
