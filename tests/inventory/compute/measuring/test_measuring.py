"""Estimates, against the guide's own examples and certified data."""

from fractions import Fraction
from math import hypot, inf, nan, sqrt
from pathlib import Path
from statistics import fmean, stdev

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.measuring.readings import (
    Estimate,
    Gauge,
    GaugeMode,
    Gauges,
    GoOutcome,
    IntervalBackwardsError,
    NoReadingError,
    NotAGaugeError,
    NotAReadingError,
    WrongShapeError,
    estimate,
    estimates,
    go_gauge,
    interval_estimate,
    interval_estimates,
    slip_of_the_decimal,
)

DATA = Path(__file__).parents[3] / "references" / "data"
PERFECT = Gauge(resolution=0.0, max_permissible_error=0.0, repeatability=0.0)
CALIPER = Gauge(resolution=0.01, max_permissible_error=0.02, repeatability=0.004)

hundredths = st.integers(500, 15_000).map(lambda steps: steps / 100)
sizes_of_error = st.integers(0, 100).map(lambda um: um / 1000)
gauges = st.builds(Gauge, sizes_of_error, sizes_of_error, sizes_of_error)


def column(name: str) -> list[float]:
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return [float(line.split(",")[1]) for line in lines[2:]]


def test_toy_caliper_budget() -> None:
    # C2-24: MPE 0.02, step 0.01, s 0.004, three readings: u 0.0121244.
    assert estimate([12.34] * 3, CALIPER).standard_uncertainty == pytest.approx(
        0.0121244, abs=0.5e-7
    )
    scattered = estimate(
        [12.336, 12.34, 12.344],  # s is 0.004 exactly
        Gauge(resolution=0.01, max_permissible_error=0.02, repeatability=0.0),
    )
    assert scattered.standard_uncertainty == pytest.approx(0.0121244, abs=0.5e-7)


@pytest.mark.parametrize(
    ("half_width", "u"), [(0.01, 0.00577350), (0.02, 0.01154701), (0.03, 0.01732051)]
)
def test_permissible_error_is_rectangular(half_width: float, u: float) -> None:
    # C2-01: JCGM 100:2008 4.3.7.
    gauge = Gauge(resolution=0, max_permissible_error=half_width, repeatability=0)
    one = estimate([12.34], gauge)
    assert one.systematic == pytest.approx(u, abs=0.5e-8)
    assert one.random == 0
    assert go_gauge(1.0, True, gauge).standard_uncertainty == one.systematic
    assert interval_estimate(1.0, 1.0, gauge).systematic == one.systematic


def test_step_of_the_display_is_not_averaged_away() -> None:
    # C2-02: JCGM 100:2008 F.2.2.1, d = 0.01 gives 0.00288675.
    gauge = Gauge(resolution=0.01, max_permissible_error=0, repeatability=0)
    for count in (1, 2, 100):
        assert estimate([12.34] * count, gauge).random == pytest.approx(
            0.00288675, abs=0.5e-8
        )


def test_flat_interval() -> None:
    # C2-01 and C2-02 again: half-width 0.03 is a step of 0.06.
    gap = interval_estimate(1.0, 1.06, CALIPER)
    assert gap.value == pytest.approx(1.03, rel=1e-15)
    assert gap.random == pytest.approx(0.01732051, abs=0.5e-8)
    assert gap.systematic == pytest.approx(0.01154701, abs=0.5e-8)
    assert gap.count == 1


def test_twenty_temperatures() -> None:
    # C2-04: JCGM 100:2008 4.4.3 prints 100.145, 1.489 and 0.333.
    room = estimate(column("gum_4_4_3_temperatures.csv"), PERFECT)
    assert room.value == pytest.approx(100.145, abs=0.0005)
    assert room.random * sqrt(20) == pytest.approx(1.489, abs=0.0005)
    assert room.random == pytest.approx(0.3329157, abs=0.5e-7)
    assert room.count == 20


@pytest.mark.parametrize(
    ("name", "mean", "sd", "condition"),
    [
        # C10-01 to C10-06: NIST StRD, certified.  The condition is mean/sd: the
        # data's own rounding to a float moves the standard deviation by that
        # much times 2**-53.
        ("michelso", 299.852400000000, 0.0790105478190518, 3.8e3),
        ("mavro", 2.00185600000000, 0.000429123454003053, 4.7e3),
        ("lottery", 518.958715596330, 291.699727470969, 1.8),
        ("lew", -177.435000000000, 277.332168044316, 0.7),
        ("numacc1", 10000002.0, 1.0, 1e7),
        ("numacc2", 1.2, 0.1, 12.0),
        ("numacc3", 1000000.2, 0.1, 1e7),
        ("numacc4", 10000000.2, 0.1, 1e8),
    ],
)
def test_certified_means_and_deviations(
    name: str, mean: float, sd: float, condition: float
) -> None:
    readings = column(f"nist_strd_{name}.csv")
    result = estimate(readings, PERFECT)
    eps = float(np.finfo(float).eps)
    # Certified to 15 figures.
    assert result.value == pytest.approx(mean, rel=1e-14)
    assert result.random * sqrt(len(readings)) == pytest.approx(
        sd, rel=max(1e-14, 4 * eps * condition)
    )


@given(st.lists(hundredths, min_size=1, max_size=12), gauges)
def test_estimate_is_the_books_formula(readings: list[float], gauge: Gauge) -> None:
    result = estimate(readings, gauge)
    n = len(readings)
    s = stdev(readings) if n > 1 else 0.0
    scatter = max(s, gauge.repeatability) / sqrt(n)
    assert result.value == pytest.approx(fmean(readings), rel=1e-14)
    assert result.random == pytest.approx(
        hypot(scatter, gauge.resolution / sqrt(12)), rel=1e-9, abs=1e-13
    )
    assert result.systematic == pytest.approx(gauge.max_permissible_error / sqrt(3))
    assert result.standard_uncertainty == pytest.approx(
        hypot(result.random, result.systematic)
    )
    assert result.count == n


@given(st.lists(hundredths, min_size=2, max_size=12))
def test_order_of_readings_is_irrelevant(readings: list[float]) -> None:
    one = estimate(readings, CALIPER)
    other = estimate(sorted(readings), CALIPER)
    assert other.value == pytest.approx(one.value, rel=1e-15)
    assert other.random == pytest.approx(one.random, rel=1e-9)


@given(st.lists(hundredths, min_size=1, max_size=8))
def test_inches_and_millimetres_agree(readings: list[float]) -> None:
    in_mm = estimate(readings, CALIPER)
    in_inches = estimate(
        [reading / 25.4 for reading in readings],
        Gauge(0.01 / 25.4, 0.02 / 25.4, 0.004 / 25.4),
    )
    assert in_inches.value * 25.4 == pytest.approx(in_mm.value, rel=1e-14)
    assert in_inches.standard_uncertainty * 25.4 == pytest.approx(
        in_mm.standard_uncertainty, rel=1e-9
    )


def test_rows_of_a_table_are_as_one_by_one() -> None:
    table = np.array(
        [
            [[12.34, 12.36, 12.31], [9.87, nan, 9.85], [nan, 5.0, nan]],
            [[1.0, 1.0, 1.0], [nan, nan, nan], [30.1, 30.2, nan]],
        ]
    )
    many = estimates(table, CALIPER)
    assert many.value.shape == (2, 3)
    for place in np.ndindex(2, 3):
        row = table[place]
        taken = row[~np.isnan(row)]
        if not taken.size:
            assert many.count[place] == 0
            assert np.isnan(many.value[place])
            assert np.isnan(many.standard_uncertainty[place])
            continue
        one = estimate(taken, CALIPER)
        assert one == estimate(row, CALIPER)
        assert one.value == many.value[place]
        assert one.random == many.random[place]
        assert one.systematic == many.systematic[place]
        assert one.count == many.count[place]


def test_each_row_may_have_its_own_gauge() -> None:
    mine = Gauges(
        resolution=np.array([0.01, 0.05]),
        max_permissible_error=np.array([0.02, 0.05]),
        repeatability=np.array([0.0, 0.03]),
    )
    table = [[12.34, 12.34], [9.85, 9.90]]
    many = estimates(table, mine)
    for row, gauge in enumerate((Gauge(0.01, 0.02, 0.0), Gauge(0.05, 0.05, 0.03))):
        one = estimate(table[row], gauge)
        assert many.random[row] == one.random
        assert many.systematic[row] == one.systematic


def test_table_without_columns_has_no_reading() -> None:
    many = estimates(np.empty((2, 0)), CALIPER)
    assert many.count.tolist() == [0, 0]
    assert np.isnan(many.value).all()
    with pytest.raises(WrongShapeError):
        estimates(12.34, CALIPER)


@pytest.mark.parametrize("readings", [[], [nan], [nan, nan]])
def test_no_reading_is_refused(readings: list[float]) -> None:
    with pytest.raises(NoReadingError) as refusal:
        estimate(readings, CALIPER)
    assert refusal.value.code == "no_reading"


def test_infinite_reading_is_refused() -> None:
    with pytest.raises(NotAReadingError) as refusal:
        estimate([12.34, inf], CALIPER)
    assert refusal.value.code == "not_a_reading"
    with pytest.raises(NotAReadingError):
        estimates([[1.0], [-inf]], CALIPER)


@pytest.mark.parametrize("readings", [12.34, [[12.34]]])
def test_more_or_less_than_a_row_is_refused(readings: object) -> None:
    with pytest.raises(WrongShapeError) as refusal:
        estimate(readings, CALIPER)  # type: ignore[arg-type]
    assert refusal.value.code == "wrong_shape"


@pytest.mark.parametrize("bad", [-0.01, nan, inf])
@pytest.mark.parametrize(
    "name", ["resolution", "max_permissible_error", "repeatability"]
)
def test_gauge_of_no_size_is_refused_by_name(name: str, bad: float) -> None:
    figures = {"resolution": 0.01, "max_permissible_error": 0.02, "repeatability": 0.0}
    with pytest.raises(NotAGaugeError, match=name) as refusal:
        Gauge(**(figures | {name: bad}))
    assert refusal.value.code == "not_a_gauge"
    arrays = {key: np.array([value]) for key, value in figures.items()}
    with pytest.raises(NotAGaugeError, match=name):
        Gauges(**(arrays | {name: np.array([0.01, bad])}))


def test_interval_backwards_is_refused() -> None:
    with pytest.raises(IntervalBackwardsError, match=r"1\.0, is thinner") as refusal:
        interval_estimate(1.06, 1.0, CALIPER)
    assert refusal.value.code == "interval_backwards"
    with pytest.raises(IntervalBackwardsError, match=r"1\.9, is thinner"):
        interval_estimates([1.0, 2.0], [1.1, 1.9], CALIPER)


def test_interval_without_both_ends_is_not_taken() -> None:
    many = interval_estimates([1.0, nan, 2.0], [1.5, 2.5, nan], CALIPER)
    assert many.count.tolist() == [1, 0, 0]
    assert np.isnan(many.value).tolist() == [False, True, True]
    assert np.isnan(many.standard_uncertainty).tolist() == [False, True, True]
    with pytest.raises(NoReadingError):
        interval_estimate(1.0, nan, CALIPER)
    with pytest.raises(NotAReadingError):
        interval_estimate(1.0, inf, CALIPER)


@given(low=hundredths, steps=st.integers(0, 50))
def test_interval_is_a_flat_distribution(low: float, steps: int) -> None:
    high = low + steps / 100
    gap = interval_estimate(low, high, PERFECT)
    # Moments of the flat distribution in exact fractions.
    a, b = Fraction(low), Fraction(high)
    assert gap.value == pytest.approx(float((a + b) / 2), rel=1e-15)
    variance = (b**2 + a * b + a**2) / 3 - ((a + b) / 2) ** 2
    assert gap.random == pytest.approx(sqrt(variance), rel=1e-12)


def test_go_gauge_passes_if_it_goes() -> None:
    slip = Gauge(resolution=0.05, max_permissible_error=0.005, repeatability=0.01)
    gone = go_gauge(1.0, True, slip)
    assert gone.outcome is GoOutcome.PASS
    assert gone.outcome.value == "pass"
    assert gone.limit == 1
    # Half-width 0.005 (C2-01, scaled): nothing is read off a step.
    assert gone.standard_uncertainty == pytest.approx(0.00288675, abs=0.5e-8)
    assert go_gauge(1.0, False, slip).outcome.value == "fail"
    with pytest.raises(NotAReadingError, match="no size of a slip"):
        go_gauge(nan, True, slip)


def test_words_of_the_modes() -> None:
    assert [mode.value for mode in GaugeMode] == ["outside", "inside", "depth", "step"]


def test_slip_of_the_decimal_is_found_here_as_well() -> None:
    # 954 typed for 9.54: common practice, no source.
    assert slip_of_the_decimal(954.0, low=3.0, high=16.0) == pytest.approx(9.54)


def test_difference_off_one_gauge_has_none_of_its_error() -> None:
    # What the two parts are kept apart for.
    left, right = estimate([20.02], CALIPER), estimate([20.11], CALIPER)
    assert isinstance(left, Estimate)
    assert hypot(left.random, right.random) < hypot(
        left.standard_uncertainty, right.standard_uncertainty
    )
