"""The gauge study, on the published AIAG data set, by both methods."""

import csv
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import ndtr

from inventory.compute.measuring.readings import Gauge
from inventory.compute.measuring.study import (
    RANGE_FACTOR,
    TRIAL_FACTOR,
    MissingReadingError,
    NotAStudyError,
    NothingVariesError,
    StudyMethod,
    check_against_master,
    gauge_study,
)

DATA = Path(__file__).parents[3] / "references" / "data"
BY_RANGE, BY_VARIANCE = StudyMethod


def aiag() -> np.ndarray[Any, Any]:
    lines = (DATA / "aiag_msa_grr_90.csv").read_text("utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    table = np.full((10, 3, 3), np.nan)
    for row in rows:
        part, trial = int(row["part"]) - 1, int(row["trial"]) - 1
        table[part, "ABC".index(row["appraiser"]), trial] = float(row["value"])
    return table


def test_the_data_set_is_the_published_one() -> None:
    # C4-01: another file of this name has other values and other sums of squares.
    table = aiag()
    assert ((table - table.mean()) ** 2).sum() == pytest.approx(94.6471, abs=5e-5)
    ranges = np.ptp(table, axis=2).mean(axis=0)
    assert ranges == pytest.approx([0.184, 0.513, 0.328], abs=5e-4)  # C4-13


def test_analysis_of_variance_gives_the_published_result() -> None:
    study = gauge_study(aiag(), method="analysis of variance")
    # C4-06, MSA manual; GRR is printed 0.302373 and recomputes to 0.3023715.
    assert study.ev == pytest.approx(0.199933, abs=5e-7)
    assert study.av == pytest.approx(0.226838, abs=5.1e-7)
    assert study.grr == pytest.approx(0.3023715, abs=5e-8)
    assert study.pv == pytest.approx(1.042327, abs=5.1e-7)
    assert study.tv == pytest.approx(1.085, abs=5e-4)  # C4-07
    assert study.interaction == 0
    # C4-08, C4-09: percent of the total, and of its square.
    shares = np.array([study.ev, study.av, study.grr, study.pv]) / study.tv
    assert 100 * shares == pytest.approx([18.42, 20.90, 27.86, 96.04], abs=5.1e-3)
    assert 100 * shares**2 == pytest.approx([3.39, 4.37, 7.76, 92.24], abs=5.1e-3)
    assert study.grr_percent == pytest.approx(27.86, abs=5e-3)
    assert study.ndc == 4  # C4-10: 4.861


def test_average_and_range_gives_the_published_result() -> None:
    study = gauge_study(aiag(), method="average and range")
    # C4-14 with exact inputs; the printed values (from memory) round the inputs.
    assert study.ev == pytest.approx(0.201857, abs=5e-7)
    assert study.av == pytest.approx(0.229667, abs=5.1e-7)
    assert study.grr == pytest.approx(0.305766, abs=5.1e-7)
    assert study.pv == pytest.approx(1.104596, abs=5.1e-7)
    assert study.tv == pytest.approx(1.146135, abs=5.1e-7)
    found = [study.ev, study.av, study.grr, study.pv, study.tv]
    printed = [0.20188, 0.22963, 0.30575, 1.10456, 1.14610]
    assert found == pytest.approx(printed, abs=5e-5)
    shares = 100 * np.array(found[:4]) / study.tv
    assert shares == pytest.approx([17.62, 20.04, 26.68, 96.38], abs=0.01)  # C4-15
    assert study.ndc == 5  # 5.094: the two methods disagree


def expected_square_of_range(count: int) -> float:
    """E[R²] of a normal sample, from the law of the range, by quadrature."""

    def below(width: float) -> float:
        def density(low: float) -> float:
            share = ndtr(low + width) - ndtr(low)
            normal = math.exp(-low * low / 2) / math.sqrt(2 * math.pi)
            return float(count * normal * share ** (count - 1))

        return float(quad(density, -9, 9, epsabs=1e-10)[0])

    return float(quad(lambda width: 2 * width * (1 - below(width)), 0, 14)[0])


def expected_range(count: int) -> float:
    """E[R] of a normal sample: Tippett's integral."""

    def missed(x: float) -> float:
        return float(1 - ndtr(x) ** count - ndtr(-x) ** count)

    return float(quad(missed, -9, 9)[0])


def test_factors_are_those_of_the_normal_law() -> None:
    # C4-12 has 0.5908, 0.5231 and 0.3146; all others follow from the same law.
    for count, factor in TRIAL_FACTOR.items():
        assert factor == pytest.approx(1 / expected_range(count), abs=6e-5)
    for count, factor in RANGE_FACTOR.items():
        root = math.sqrt(expected_square_of_range(count))
        assert factor == pytest.approx(1 / root, abs=6e-5)
    assert (TRIAL_FACTOR[3], RANGE_FACTOR[3], RANGE_FACTOR[10]) == (
        0.5908,
        0.5231,
        0.3146,
    )


def test_interaction_that_is_no_chance_is_kept_apart() -> None:
    # Person 1 reads the second part 1 higher, person 0 does not: by hand, with
    # cell means 0 0 / 0 1 and an error variance of 0.01 · 2 / 2.
    cells = np.array([[0.0, 0.0], [0.0, 1.0]])
    table = cells[:, :, None] + np.array([-0.1, 0.1])
    study = gauge_study(table, method=BY_VARIANCE)
    # Interaction mean square 2 · 4 · 0.25² = 0.5, error 8 · 0.01 / 4 = 0.02.
    assert study.ev == pytest.approx(math.sqrt(0.02))
    assert study.interaction == pytest.approx(math.sqrt((0.5 - 0.02) / 2))
    # People and parts: mean squares 2 · 2 · 2 · 0.25² = 0.5, as the interaction's.
    assert study.av == study.pv == 0
    assert study.grr == pytest.approx(math.hypot(study.ev, study.interaction))


def test_without_pooling_repeatability_is_the_error_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # C4-11: the choice moves the result by 7 %.
    monkeypatch.setattr("inventory.compute.measuring.study.POOL_ABOVE", 1.0)
    study = gauge_study(aiag(), method=BY_VARIANCE)
    assert study.ev == pytest.approx(0.214435, abs=5e-7)


@given(seed=st.integers(0, 2**32 - 1), scale=st.sampled_from([0.001, 1.0, 25.4]))
def test_units_scale_out_and_order_does_not_matter(seed: int, scale: float) -> None:
    rng = np.random.default_rng(seed)
    table = rng.normal(0, 1, (6, 1, 1)) + rng.normal(0, 0.2, (6, 3, 3))
    moved = 20 + scale * table[::-1, ::-1, ::-1]
    for method in StudyMethod:
        study, other = (gauge_study(one, method=method) for one in (table, moved))
        assert other.ev == pytest.approx(scale * study.ev, rel=1e-6)
        assert other.pv == pytest.approx(scale * study.pv, rel=1e-6)
        assert other.av == pytest.approx(scale * study.av, rel=1e-6, abs=1e-6 * scale)
        assert other.grr_percent == pytest.approx(study.grr_percent, rel=1e-6)
        assert study.tv == pytest.approx(math.hypot(study.grr, study.pv))


def test_known_spreads_are_found_again() -> None:
    # Monte Carlo: 400 parts, 20 people and 5 trials of known spreads.
    rng = np.random.default_rng(4)
    table = (
        rng.normal(0, 1.0, (400, 1, 1))
        + rng.normal(0, 0.3, (1, 20, 1))
        + rng.normal(0, 0.1, (400, 20, 5))
    )
    study = gauge_study(table, method=BY_VARIANCE)
    assert study.ev == pytest.approx(0.1, rel=0.02)  # 5 / sqrt(2 · 32,000)
    assert study.av == pytest.approx(0.3, rel=0.8)  # 5 / sqrt(2 · 19)
    assert study.pv == pytest.approx(1.0, rel=0.18)  # 5 / sqrt(2 · 399)


@pytest.mark.parametrize("method", StudyMethod)
def test_gauge_that_never_strays_has_no_limit_of_classes(method: StudyMethod) -> None:
    table = np.broadcast_to(np.array([1.0, 2.0, 4.0])[:, None, None], (3, 2, 2))
    study = gauge_study(table, method=method)
    assert study.grr == pytest.approx(0, abs=1e-12)
    assert study.ndc is None


def test_people_who_differ_without_any_spread_of_trials() -> None:
    table = np.zeros((2, 2, 2))
    table[1, 1] = 1.0
    study = gauge_study(table, method=BY_VARIANCE)
    assert study.ev == 0
    # Interaction mean square 2 · 4 · 0.25² = 0.5, shared by two trials.
    assert study.interaction == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("shape", "method"),
    [
        ((10, 3), BY_VARIANCE),
        ((1, 3, 3), BY_VARIANCE),
        ((10, 1, 3), BY_VARIANCE),
        ((10, 3, 1), BY_RANGE),
        ((11, 3, 3), BY_RANGE),
        ((10, 4, 3), BY_RANGE),
        ((10, 3, 4), BY_RANGE),
        ((10, 3, 3), "by eye"),
    ],
)
def test_study_that_is_none_is_refused(shape: tuple[int, ...], method: str) -> None:
    with pytest.raises(NotAStudyError):
        gauge_study(np.arange(math.prod(shape)).reshape(shape), method=method)


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_missing_reading_is_refused_with_its_place(value: float) -> None:
    table = aiag()
    table[4, 1, 2] = value
    with pytest.raises(MissingReadingError) as refused:
        gauge_study(table, method=BY_RANGE)
    assert refused.value.position == (4, 1, 2)


def test_readings_that_never_vary_are_refused() -> None:
    with pytest.raises(NothingVariesError):
        gauge_study(np.full((3, 2, 2), 20.0), method=BY_RANGE)


CALIPER = Gauge(0.01, 0.02, 0.01)


@pytest.mark.parametrize(
    ("readings", "bias"),
    [
        ([20.00], 0.0),
        ([20.02, 20.02, 20.02], 0.02),  # at the limit, which is allowed
        ([19.98, 19.98], -0.02),
        ([20.03, 20.02], 0.025),
        ([19.97], -0.03),
        ([19.96, 20.04], 0.0),
    ],
)
def test_gauge_passes_within_its_permissible_error(
    readings: list[float], bias: float
) -> None:
    check = check_against_master(readings, master=20.0, gauge=CALIPER)
    assert check.bias == pytest.approx(bias, abs=1e-9)
    assert check.passed is (bias in {0.0, 0.02, -0.02})
    assert check.spread == pytest.approx(max(readings) - min(readings))


@pytest.mark.parametrize("readings", [[], [[20.0]], 20.0])
def test_check_without_a_row_of_readings_is_refused(readings: Any) -> None:
    with pytest.raises(NotAStudyError):
        check_against_master(readings, master=20.0, gauge=CALIPER)


@pytest.mark.parametrize(
    ("readings", "master", "position"),
    [([20.0, math.nan], 20.0, (1,)), ([20.0], math.inf, (0,))],
)
def test_check_with_a_missing_value_is_refused(
    readings: list[float], master: float, position: tuple[int, ...]
) -> None:
    with pytest.raises(MissingReadingError) as refused:
        check_against_master(readings, master=master, gauge=CALIPER)
    assert refused.value.position == position
