"""Suspect readings: trade cases, and every answer against a search in fractions."""

from fractions import Fraction
from math import inf, nan

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from inventory.compute.numbers.suspects import differs_from_last, slip_of_the_decimal
from inventory.compute.numbers.units import Unit


@pytest.mark.parametrize(
    ("value", "low", "high", "meant"),
    [
        # Common practice, no source: 954 typed for 9.54, 0.75 in typed as mm.
        (954.0, 3.0, 16.0, 9.54),
        (95.4, 4.0, 16.0, 9.54),
        (0.954, 3.0, 16.0, 9.54),
        (9540.0, 3.0, 16.0, 9.54),
        (0.75, 14.0, 32.0, 19.05),
        (19.05 * 25.4, 14.0, 32.0, 19.05),
        (-1.5, -0.5, -0.1, -0.15),
    ],
)
def test_one_fit_is_suggested(
    value: float, low: float, high: float, meant: float
) -> None:
    assert slip_of_the_decimal(value, low=low, high=high) == pytest.approx(
        meant, abs=0.5e-6
    )


@pytest.mark.parametrize(
    ("value", "low", "high"),
    [
        (9.54, 3.0, 16.0),  # plausible
        (3.0, 3.0, 16.0),  # plausible, on the edge
        (16.0000004, 3.0, 16.0),  # plausible, rounded to the millionth
        (60.0, 2.0, 16.0),  # two fit: 6.0 and 60/25.4
        (40.0, 0.3, 5.0),  # three fit: 4.0, 0.4 and 40/25.4
        (-9.54, 3.0, 16.0),  # none fits
        (0.0, 3.0, 16.0),
        (1e6, 3.0, 16.0),
        (nan, 3.0, 16.0),
        (inf, 3.0, 16.0),
        (1e305, 3.0, 16.0),
        (9.54, 16.0, 3.0),
    ],
)
def test_none_or_several_are_asked_about(value: float, low: float, high: float) -> None:
    assert slip_of_the_decimal(value, low=low, high=high) is None


def test_only_a_length_is_an_inch() -> None:
    assert slip_of_the_decimal(0.5, low=8.0, high=32.0) == pytest.approx(12.7)
    assert slip_of_the_decimal(0.5, low=8.0, high=32.0, unit=Unit.GRAM) is None
    assert slip_of_the_decimal(1.2, low=8.0, high=32.0, unit=Unit.GRAM) == 12


@given(
    value=st.integers(-(10**9), 10**9),
    low=st.integers(0, 10**8),
    width=st.integers(0, 10**8),
    unit=st.sampled_from([Unit.MILLIMETRE, Unit.GRAM]),
)
@example(value=9_540_000_00, low=3_000_000, width=13_000_000, unit=Unit.MILLIMETRE)
def test_suggestion_is_that_of_a_search(
    value: int, low: int, width: int, unit: Unit
) -> None:
    high = low + width
    shifts = [Fraction(n) for n in (10, 100, 1000)]
    if unit is Unit.MILLIMETRE:
        shifts.append(Fraction("25.4"))
    meant = [Fraction(value) * shift for shift in shifts]
    meant += [Fraction(value) / shift for shift in shifts]
    fits = [m for m in meant if low <= m <= high]
    # Half a millionth from an edge the rounding decides, and either may be right.
    if any(0 < abs(m - edge) < 1 for m in meant for edge in (low, high)):
        return
    found = slip_of_the_decimal(value / 1e6, low=low / 1e6, high=high / 1e6, unit=unit)
    if low <= value <= high or len(fits) != 1:
        assert found is None
    else:
        assert found == pytest.approx(float(fits[0]) / 1e6, abs=0.51e-6, rel=1e-15)


def test_many_at_once_are_as_one_by_one() -> None:
    values = np.array([954.0, 9.54, 60.0, nan])
    low, high = np.array([3.0, 3.0, 2.0, 3.0]), 16.0
    many = slip_of_the_decimal(values, low=low, high=high)
    assert many[0] == pytest.approx(9.54)
    assert np.isnan(many[1:]).all()


# 0.3 mm and 5u: common practice, no source; the limit itself is not asked about.
@pytest.mark.parametrize(
    ("value", "asked"),
    [(20.0, False), (20.36, False), (20.360001, True), (19.64, False), (19.63, True)],
)
def test_far_from_the_last_is_asked_about(value: float, *, asked: bool) -> None:
    assert differs_from_last(value, last=20.0, standard_uncertainty=0.012) is asked


def test_other_quantities_have_their_own_allowance() -> None:
    assert differs_from_last(171.0, last=170.0, standard_uncertainty=0.0, allowance=0.5)


def test_many_are_compared_at_once() -> None:
    far = differs_from_last(
        np.array([20.0, 20.5, 20.0]),
        last=np.array([20.0, 20.0, nan]),
        standard_uncertainty=0.012,
    )
    assert far.dtype == np.bool_
    assert far.tolist() == [False, True, False]
