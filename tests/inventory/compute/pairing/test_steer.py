"""Two unequal tyres, against handbook values and a wheel-by-wheel roll."""

from decimal import Decimal, localcontext
from math import cos, hypot, inf, isinf, nan, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.pairing.steering import (
    NO_TYRE,
    NotASizeError,
    Steer,
    Towards,
    steer,
)

diameters = st.integers(8000, 32000).map(lambda um: um / 1000)
tracks = st.integers(30_000, 80_000).map(lambda um: um / 1000)


def exact_drift(radius_mm: float) -> float:
    """R(1 - cos(1000/R)) in 60 digits, by the series of the cosine."""
    with localcontext() as context:
        context.prec = 60
        radius = Decimal(radius_mm)
        angle = 1000 / radius
        term, total, n = Decimal(1), Decimal(0), 0
        while abs(term) > Decimal("1e-55"):
            term = -term * angle * angle / ((2 * n + 1) * (2 * n + 2))
            total -= term
            n += 1
        return float(radius * total)


def roll(left: float, right: float, track: float, steps: int = 4000) -> float:
    """Drift to the left after 1 m, each wheel rolling its own way step by step."""
    # Contacts of two discs on one axle are the slant of the cone apart.
    apart = hypot(track, (right - left) / 2)
    ahead = 1000 / steps
    bend = ahead / ((left + right) / 4) * (right - left) / 2 / apart
    heading = along = aside = 0.0
    for _ in range(steps):
        along += ahead * cos(heading + bend / 2)
        aside += ahead * sin(heading + bend / 2)
        heading += bend
    return aside


def test_twenty_and_twenty_point_one() -> None:
    # The page's own number, common practice, no source.
    pair = steer(20.00, 20.10, 60)
    assert pair.radius_mm == pytest.approx(12_030.004, abs=0.0005)
    assert pair.towards is Towards.LEFT
    assert pair.drift_mm_per_metre == pytest.approx(41.54, abs=0.005)


@pytest.mark.parametrize(
    ("left", "right", "smaller_circle_mm"),
    [(19.90, 20.00, 9950.0), (19.95, 20.00, 19950.0), (19.99, 20.00, 99950.0)],
)
def test_circle_of_the_smaller_wheel(
    left: float, right: float, smaller_circle_mm: float
) -> None:
    # C8-01: similar triangles, track 50 along the ground, so half of it inside the
    # middle.  C8-02: along the axle instead it is 0.5 ppm more at most.
    middle = steer(left, right, 50.0).radius_mm
    assert middle == pytest.approx(smaller_circle_mm + 25, rel=0.6e-6)


def test_radius_is_longer_by_the_slope_of_the_axle() -> None:
    # C8-02: 9950.005 for the smaller wheel; the middle scales by 19.95/19.90.
    radius = steer(19.90, 20.00, 50.0).radius_mm
    assert radius * 19.90 / 19.95 == pytest.approx(9950.005, abs=0.0005)


def test_middle_and_drift_by_the_parabola() -> None:
    # C8-03: 9975 mm, and s²/(2R), 1253 mm over 5 m; the next term of the cosine is
    # s²/(12 R²) of it.
    pair = steer(20.00, 19.90, 50.0)
    assert pair.radius_mm == pytest.approx(9975, rel=0.6e-6)
    assert 5000**2 / (2 * pair.radius_mm) == pytest.approx(1253, abs=0.5)
    parabola = 1000**2 / (2 * pair.radius_mm)
    assert pair.drift_mm_per_metre == pytest.approx(parabola, rel=1 / (12 * 9.975**2))


def test_railway_law() -> None:
    # C8-05: mean diameter x track / difference, from memory; slope left out.
    assert steer(20.2, 20.0, 58.0).radius_mm == pytest.approx(20.1 * 58 / 0.2, rel=1e-5)


@given(left=diameters, right=diameters, track=tracks)
def test_pair_rolls_as_its_wheels_do(left: float, right: float, track: float) -> None:
    pair = steer(left, right, track)
    drift = roll(left, right, track, steps=500)
    side = {Towards.LEFT: 1, Towards.RIGHT: -1, Towards.STRAIGHT: 0}[pair.towards]
    # Chords of steps of 2 mm: short by their own square over 24 R².
    step_error = (2 / pair.radius_mm) ** 2
    assert side * pair.drift_mm_per_metre == pytest.approx(
        drift, rel=max(step_error, 1e-9), abs=1e-6
    )


@given(left=diameters, right=diameters, track=tracks)
def test_drift_keeps_its_digits(left: float, right: float, track: float) -> None:
    pair = steer(left, right, track)
    if not isinf(pair.radius_mm) and pair.radius_mm > 1000:
        assert pair.drift_mm_per_metre == pytest.approx(
            exact_drift(pair.radius_mm), rel=1e-14
        )


@given(left=diameters, right=diameters, track=tracks)
def test_sides_exchanged_turns_the_other_way(
    left: float, right: float, track: float
) -> None:
    one, other = steer(left, right, track), steer(right, left, track)
    assert one.radius_mm == other.radius_mm
    turned = {"left": "right", "right": "left", "straight": "straight"}
    assert other.towards.value == turned[one.towards.value]


@given(left=diameters, right=diameters, track=tracks, scale=st.integers(2, 20))
def test_lengths_scale_out(left: float, right: float, track: float, scale: int) -> None:
    one = steer(left, right, track)
    larger = steer(left * scale, right * scale, track * scale)
    assert larger.radius_mm == pytest.approx(one.radius_mm * scale, rel=1e-8)
    assert larger.towards is one.towards


def test_equal_tyres_run_straight() -> None:
    assert steer(20.1, 20.1, 60.0) == Steer(
        radius_mm=inf, towards=Towards.STRAIGHT, drift_mm_per_metre=0.0
    )
    # 19.9 + 0.4 is 20.299999999999997: what floats lose is no difference of size.
    assert steer(19.9 + 0.4, 20.3, 60.0).towards is Towards.STRAIGHT
    assert steer(20.0, 20.000001, 60.0).towards is Towards.LEFT


def test_arrays_give_codes_in_the_order_of_the_words() -> None:
    left = np.array([20.0, 20.1, 20.0, nan, 20.0])
    right = np.array([20.1, 20.0, 20.0, 20.0, 20.1])
    track = np.array([60.0, 60.0, 60.0, 60.0, nan])
    many = steer(left, right, track)
    assert many.towards.dtype == np.int8
    assert many.towards.tolist() == [0, 1, 2, NO_TYRE, NO_TYRE]
    assert [word.value for word in Towards] == ["left", "right", "straight"]
    for row in range(3):
        one = steer(left[row].item(), right[row].item(), track[row].item())
        assert list(Towards)[many.towards[row]] is one.towards
        assert many.radius_mm[row] == one.radius_mm
        assert many.drift_mm_per_metre[row] == one.drift_mm_per_metre
    assert np.isnan(many.radius_mm[3:]).all()
    assert np.isnan(many.drift_mm_per_metre[3:]).all()


def test_one_track_serves_many_pairs() -> None:
    many = steer(np.array([20.0, 20.0]), np.array([20.1, 20.2]), 60.0)
    assert many.radius_mm.shape == (2,)


@pytest.mark.parametrize(
    ("left", "right", "track"),
    [
        (0.0, 20.0, 60.0),
        (20.0, -20.0, 60.0),
        (20.0, 20.1, 0.0),
        (nan, 20.0, 60.0),
        (20.0, inf, 60.0),
    ],
)
def test_no_size_is_refused(left: float, right: float, track: float) -> None:
    with pytest.raises(NotASizeError, match="no size; expected more than 0 mm"):
        steer(left, right, track)


def test_no_size_in_an_array_is_refused_with_its_place() -> None:
    with pytest.raises(NotASizeError, match=r"^-1\.0 at 2 is no size") as refusal:
        steer(np.array([20.0, nan, -1.0]), np.full(3, 20.0), 60.0)
    assert refusal.value.code == "not_a_size"
