"""Form of a tyre: hand cases, and laws of what is form and what is scatter."""

from math import hypot, inf, nan, radians, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from inventory.compute.measuring.readings import (
    Gauge,
    NoReadingError,
    NotAReadingError,
    WrongShapeError,
)
from inventory.compute.measuring.tyre_form import tyre_form, tyre_forms

CALIPER = Gauge(resolution=0.01, max_permissible_error=0.02, repeatability=0.004)
SOFT = Gauge(resolution=0.0, max_permissible_error=0.0, repeatability=0.0)

tyres = arrays(
    np.float64, (3, 3), elements=st.integers(1400, 3200).map(lambda step: step / 100)
)


def lobed(
    rng: np.random.Generator, tyres: int, *, out_of_round: float, sections: int = 1
) -> np.ndarray:
    """Draw tyres of two lobes, 20 mm, as jaws see them at three angles and noise."""
    phase = rng.uniform(0, np.pi, (tyres, 1, 1))
    angle = np.radians([0.0, 60.0, 120.0]) + rng.normal(
        0, np.radians(10), (tyres, sections, 3)
    )
    noise = rng.normal(0, 0.02, (tyres, sections, 3))
    lobes = out_of_round / 2 * np.cos(2 * (angle - phase))
    read: np.ndarray = 20 + lobes + noise
    return read


def test_tyre_by_hand() -> None:
    # Inner, middle, outer section, three angles each; worked by hand.
    form = tyre_form(
        [[12.30, 12.34, 12.32], [12.40, 12.40, 12.40], [12.50, 12.44, 12.47]], SOFT
    )
    assert form.taper == pytest.approx(0.15, abs=1e-12)
    assert form.diameter.value == pytest.approx((12.32 + 12.40 + 12.47) / 3)
    # Deviations from the sections' means, hundredths: -2 2 0, 0 0 0, 3 -3 0; the
    # angles' means 1/3, -1/3, 0; squares left 8 + 18 - 3 * 2/9, four degrees.
    scatter = sqrt((26 - 3 * 2 / 9) / 4) / 100
    # Lobes: 26 - 6 * scatter squared is below zero, so the usual 0.025 mm counts;
    # three angles cancel it but for 10 degrees of placing: 2 * 0.1745 / sqrt 3 of it.
    left = 0.025 / sqrt(2) * 2 * radians(10) / sqrt(3)
    assert form.diameter.random == pytest.approx(hypot(scatter / 3, left))
    # The widest of three ranges of three, squared, is 6.3 variances in the mean (a
    # draw of 400,000): less than 0.06 mm is left of it.
    rng = np.random.default_rng(4)
    ranges = np.ptp(rng.normal(size=(400_000, 3, 3)), axis=2).max(axis=1)
    alone = np.mean(ranges**2) * scatter**2
    left_over = sqrt(max(0.06**2 - alone, 0))
    assert form.out_of_round == pytest.approx(left_over, abs=0.0005)
    assert form.diameter.count == 9


def test_cone_is_form_and_no_scatter() -> None:
    cone = tyre_form([[12.0] * 3, [12.5] * 3, [13.0] * 3], CALIPER)
    flat = tyre_form([[12.5] * 3] * 3, CALIPER)
    assert cone.diameter == flat.diameter
    assert cone.taper == pytest.approx(1.0)
    assert cone.out_of_round == 0


@given(tyres)
def test_taper_changes_sign_when_the_tyre_is_turned(tyre: np.ndarray) -> None:
    one, other = tyre_form(tyre, CALIPER), tyre_form(tyre[::-1], CALIPER)
    assert other.taper == pytest.approx(-one.taper, abs=1e-12)
    assert other.out_of_round == pytest.approx(one.out_of_round, abs=1e-6)
    assert other.diameter.value == pytest.approx(one.diameter.value)


@given(tyres, st.permutations(range(3)))
def test_start_of_the_angles_is_irrelevant(tyre: np.ndarray, order: list[int]) -> None:
    one, other = tyre_form(tyre, CALIPER), tyre_form(tyre[:, order], CALIPER)
    assert other.out_of_round == pytest.approx(one.out_of_round, abs=1e-6)
    assert other.taper == pytest.approx(one.taper, abs=1e-12)
    assert other.diameter.random == pytest.approx(one.diameter.random)


@given(tyres, st.integers(-200, 200).map(lambda step: step / 100))
def test_coning_a_tyre_changes_its_taper_only(tyre: np.ndarray, cone: float) -> None:
    coned = tyre + np.array([[-cone / 2], [0.0], [cone / 2]])
    one, other = tyre_form(tyre, CALIPER), tyre_form(coned, CALIPER)
    assert other.taper == pytest.approx(one.taper + cone, abs=1e-11)
    assert other.out_of_round == pytest.approx(one.out_of_round, abs=1e-6)
    assert other.diameter.value == pytest.approx(one.diameter.value)
    assert other.diameter.random == pytest.approx(one.diameter.random)


@pytest.mark.parametrize("angles", [1, 2, 3])
@pytest.mark.parametrize("out_of_round", [0.0, 0.05, 0.15])
def test_u_covers_the_true_mean_however_many_angles_were_read(
    angles: int, out_of_round: float
) -> None:
    # A simulation: the true mean is 20 mm, the noise known.  Of a rounder tyre than
    # usual u is larger than need be; one or two readings of a tyre that is three times
    # less round than the usual cannot tell it, three can.
    gauge = Gauge(resolution=0.0, max_permissible_error=0.0, repeatability=0.02)
    tyres = lobed(np.random.default_rng(7), 40_000, out_of_round=out_of_round)
    read = tyre_forms(tyres[..., :angles], gauge).diameter
    inside = np.mean(np.abs(read.value - 20) <= 1.96 * read.random)
    if angles < 3 and out_of_round > 0.1:
        assert inside < 0.85
    elif out_of_round:
        assert inside > 0.93
        if angles == 3:
            assert inside < 0.97
    else:
        assert inside > 0.94


def test_three_angles_cancel_two_lobes_and_u_says_so() -> None:
    # Before, u had the lobes whole in it as scatter: half of 0.075 mm, 0.04 mm.
    gauge = Gauge(resolution=0.0, max_permissible_error=0.0, repeatability=0.02)
    tyres = lobed(np.random.default_rng(8), 20_000, out_of_round=0.15)
    read = tyre_forms(tyres, gauge).diameter
    assert np.std(read.value) == pytest.approx(np.mean(read.random), rel=0.05)
    assert np.mean(read.random) < 0.02
    one = tyre_forms(tyres[..., :1], gauge).diameter.random
    two = tyre_forms(tyres[..., :2], gauge).diameter.random
    # The usual tyre: hypot(0.02, 0.025 / sqrt 2).
    assert one == pytest.approx(hypot(0.02, 0.025 / sqrt(2)))
    assert np.mean(two) > np.mean(read.random)


def test_out_of_round_is_rid_of_the_range_of_scatter() -> None:
    # Range over three angles of a perfectly round tyre: d2 0.02 = 0.034 mm before.
    # (1.693 for three is in every table of control charts, from memory.)
    gauge = Gauge(resolution=0.0, max_permissible_error=0.0, repeatability=0.02)
    rng = np.random.default_rng(9)
    round_ones = lobed(rng, 40_000, out_of_round=0.0)
    assert np.ptp(round_ones, axis=-1).mean() == pytest.approx(0.0339, abs=0.0005)
    found = tyre_forms(round_ones, gauge).out_of_round
    # In the mean of squares nothing is left but what cannot fall below nothing.
    assert np.mean(found) < 0.0339 / 2
    assert np.median(found) < 0.005
    oval = lobed(rng, 40_000, out_of_round=0.15, sections=3)
    still = np.ptp(
        0.075 * np.cos(2 * (np.radians([0, 60, 120]) - rng.uniform(0, 3.2, (9999, 1)))),
        axis=-1,
    ).mean()
    assert tyre_forms(oval, gauge).out_of_round.mean() == pytest.approx(still, abs=0.01)


@given(st.integers(2, 9), st.integers(2, 4))
def test_repeats_at_an_angle_are_scatter(lobe: int, rounds: int) -> None:
    # Read round and round, the same three places: form is in none of the scatter.
    rng = np.random.default_rng(lobe)
    places = 20 + np.array([0.0, lobe / 10, -lobe / 20])
    read = np.tile(places, rounds) + rng.normal(0, 0.01, 3 * rounds)
    again = read.reshape(rounds, 3)
    spread = sqrt(float(np.mean(np.var(again, axis=0, ddof=1))))
    form = tyre_form([read], SOFT)
    left = max(lobe / 10 / sqrt(2), 0.025) * radians(10)
    assert form.diameter.random == pytest.approx(
        hypot(spread / sqrt(3 * rounds), left * 2 / sqrt(6 * rounds)), rel=0.3
    )


def test_missing_readings_leave_what_can_be_said() -> None:
    forms = tyre_forms(
        [
            [[12.30, 12.34, nan], [nan, nan, nan], [12.50, nan, nan]],
            [[12.30, nan, nan], [12.40, nan, nan], [nan, nan, nan]],
            [[nan, nan, nan], [nan, nan, nan], [nan, nan, nan]],
        ],
        SOFT,
    )
    assert forms.diameter.count.tolist() == [3, 2, 0]
    # Mean of the sections, not of the readings: 12.32 and 12.50.
    assert forms.diameter.value[:2] == pytest.approx([12.41, 12.35])
    assert np.isnan(forms.diameter.value[2])
    # Two angles leave half of the lobes, one all: three quarters in the mean, and
    # how well the second angle was met.  Squares 0.0008 are 3/4 of the lobes'.
    lobes = sqrt(0.0008 / 0.75)
    two = hypot(1 / 2, 2 * radians(10) / sqrt(2))
    assert forms.diameter.random[0] == pytest.approx(lobes / sqrt(2) * (two + 1) / 2)
    assert forms.out_of_round[0] == pytest.approx(0.04)
    assert np.isnan(forms.out_of_round[1:]).all()
    assert forms.taper[0] == pytest.approx(0.18)
    assert np.isnan(forms.taper[1:]).all()


def test_tables_without_angles_or_sections_have_no_form() -> None:
    for shape in ((1, 0, 3), (1, 3, 0)):
        forms = tyre_forms(np.empty(shape), CALIPER)
        assert forms.diameter.count.tolist() == [0]
        assert np.isnan(forms.out_of_round).all()
        assert np.isnan(forms.taper).all()


def test_other_shapes_and_readings_are_refused() -> None:
    with pytest.raises(WrongShapeError):
        tyre_form([12.34], CALIPER)
    with pytest.raises(WrongShapeError):
        tyre_form([[[12.34]]], CALIPER)
    with pytest.raises(WrongShapeError):
        tyre_forms([12.34], CALIPER)
    with pytest.raises(NotAReadingError):
        tyre_form([[12.34, inf]], CALIPER)
    with pytest.raises(NoReadingError):
        tyre_form([[nan, nan]], CALIPER)
