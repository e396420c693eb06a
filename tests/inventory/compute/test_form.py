"""Form of a tyre: hand cases, and laws of what is form and what is scatter."""

from math import hypot, inf, nan, sqrt
from statistics import stdev

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from inventory.compute.form import tyre_form, tyre_forms
from inventory.compute.measuring import (
    Gauge,
    NoReadingError,
    NotAReadingError,
    WrongShapeError,
    estimate,
)

CALIPER = Gauge(resolution=0.01, max_permissible_error=0.02, repeatability=0.004)
SOFT = Gauge(resolution=0.0, max_permissible_error=0.0, repeatability=0.0)

tyres = arrays(
    np.float64, (3, 3), elements=st.integers(1400, 3200).map(lambda step: step / 100)
)


def test_tyre_by_hand() -> None:
    # Inner, middle, outer section, three angles each; worked by hand.
    form = tyre_form(
        [[12.30, 12.34, 12.32], [12.40, 12.40, 12.40], [12.50, 12.44, 12.47]], SOFT
    )
    assert form.out_of_round == pytest.approx(0.06, abs=1e-12)
    assert form.taper == pytest.approx(0.15, abs=1e-12)
    assert form.diameter.value == pytest.approx((12.32 + 12.40 + 12.47) / 3)
    # Squares about the sections' means: 0.0008, 0, 0.0018; six degrees of freedom.
    assert form.diameter.random == pytest.approx(sqrt(0.0026 / 6 / 9))
    assert form.diameter.count == 9


def test_cone_is_form_and_no_scatter() -> None:
    cone = tyre_form([[12.0] * 3, [12.5] * 3, [13.0] * 3], CALIPER)
    plain = estimate([12.5] * 9, CALIPER)
    assert cone.diameter == plain
    assert cone.taper == pytest.approx(1.0)
    assert cone.out_of_round == 0


@given(tyres)
def test_taper_changes_sign_when_the_tyre_is_turned(tyre: np.ndarray) -> None:
    one, other = tyre_form(tyre, CALIPER), tyre_form(tyre[::-1], CALIPER)
    assert other.taper == pytest.approx(-one.taper, abs=1e-12)
    assert other.out_of_round == one.out_of_round
    assert other.diameter.value == pytest.approx(one.diameter.value)


@given(tyres, st.permutations(range(3)))
def test_start_of_the_angles_is_irrelevant(tyre: np.ndarray, order: list[int]) -> None:
    one, other = tyre_form(tyre, CALIPER), tyre_form(tyre[:, order], CALIPER)
    assert other.out_of_round == one.out_of_round
    assert other.taper == pytest.approx(one.taper, abs=1e-12)
    assert other.diameter.random == pytest.approx(one.diameter.random)


@given(tyres, st.integers(-200, 200).map(lambda step: step / 100))
def test_coning_a_tyre_changes_its_taper_only(tyre: np.ndarray, cone: float) -> None:
    coned = tyre + np.array([[-cone / 2], [0.0], [cone / 2]])
    one, other = tyre_form(tyre, CALIPER), tyre_form(coned, CALIPER)
    assert other.taper == pytest.approx(one.taper + cone, abs=1e-11)
    assert other.out_of_round == pytest.approx(one.out_of_round, abs=1e-11)
    assert other.diameter.value == pytest.approx(one.diameter.value)
    assert other.diameter.random == pytest.approx(one.diameter.random)


@given(tyres)
def test_full_tyre_agrees_with_pooling_by_the_book(tyre: np.ndarray) -> None:
    form = tyre_form(tyre, CALIPER)
    pooled = sqrt(sum(stdev(map(float, section)) ** 2 for section in tyre) / 3)
    scatter = max(pooled, 0.004) / 3
    assert form.diameter.random == pytest.approx(hypot(scatter, 0.01 / sqrt(12)))
    ranges = [max(section) - min(section) for section in tyre]
    assert form.out_of_round == max(ranges)


@given(st.lists(st.integers(1400, 3200), min_size=1, max_size=6))
def test_one_section_is_a_plain_estimate(hundredths: list[int]) -> None:
    readings = [step / 100 for step in hundredths]
    form = tyre_form([readings], CALIPER)
    plain = estimate(readings, CALIPER)
    assert form.diameter.value == pytest.approx(plain.value)
    assert form.diameter.random == pytest.approx(plain.random)
    assert form.diameter.count == plain.count
    assert np.isnan(form.taper)


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
    # One degree of freedom, variance 0.0008; shares (1/2 + 1)/4 of it.
    assert forms.diameter.random[0] == pytest.approx(sqrt(0.0008 * 1.5 / 4))
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
