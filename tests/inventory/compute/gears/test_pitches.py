"""What pitch an unmarked gear has, and how honestly that is said."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from inventory.compute.gears.meshes import (
    NO_STANDARD_PITCH,
    PITCHES,
    NotALengthError,
    TeethError,
    identify_pitch,
)

# A caliper with a permissible error of 0.02 mm: 0.02 / sqrt(3) (JCGM 100, 4.3.7).
U_MM = 0.02 / math.sqrt(3)


def test_nine_teeth_are_said_to_be_ambiguous_about_64_to_36() -> None:
    first, second, *_ = identify_pitch(9, outside_diameter_mm=4.4, u_mm=U_MM)
    assert (first.name, second.name) == ("module 0.4", "64 pitch")
    assert first.probability == pytest.approx(0.64, abs=0.005)
    assert second.probability == pytest.approx(0.36, abs=0.005)


def test_twenty_eight_teeth_are_told_apart_99_to_1() -> None:
    inch = 30 * 25.4 / 64
    first, second, *_ = identify_pitch(28, outside_diameter_mm=inch, u_mm=U_MM)
    assert (first.name, second.name) == ("64 pitch", "module 0.4")
    assert first.probability == pytest.approx(0.99, abs=0.005)
    assert second.probability == pytest.approx(0.01, abs=0.005)


def test_sizes_of_the_candidates_are_those_of_the_tables() -> None:
    # C5-04 (m = 25.4 / P) and C5-06 (outside diameter m(z + 2)).
    found = {c.name: c for c in identify_pitch(28, outside_diameter_mm=11.9, u_mm=U_MM)}
    assert set(found) == {
        "module 0.3", "module 0.35", "module 0.4", "module 0.5", "module 0.6",
        "module 0.8", "module 1.0", "32 pitch", "48 pitch", "64 pitch", "72 pitch",
        "80 pitch", "96 pitch",
    }  # fmt: skip
    for per_inch, module in (
        (32, 0.79375), (48, 0.529167), (64, 0.396875), (72, 0.352778),
        (80, 0.3175), (96, 0.264583),
    ):  # fmt: skip
        candidate = found[f"{per_inch} pitch"]
        assert candidate.module_mm == pytest.approx(module, abs=5e-7)
        assert candidate.outside_diameter_mm == pytest.approx(30 * module, abs=2e-5)


@given(
    teeth=st.integers(6, 60),
    diameter=st.floats(2.0, 40.0),
    u_mm=st.floats(0.0, 0.2),
)
def test_shares_are_those_of_the_normal_density(
    teeth: int, diameter: float, u_mm: float
) -> None:
    found = identify_pitch(teeth, outside_diameter_mm=diameter, u_mm=u_mm)
    sigma = math.sqrt(u_mm**2 + 0.03**2)
    shares = [candidate.probability for candidate in found]
    assert sum(shares) == pytest.approx(1.0)
    assert shares == sorted(shares, reverse=True)
    nearest = min(abs(diameter - p.module_mm * (teeth + 2)) for p in PITCHES)
    unexplained = found[0].name == NO_STANDARD_PITCH
    assert unexplained == (nearest > 3 * sigma)
    if not unexplained:
        density = {
            p.name: float(norm.pdf(diameter, p.module_mm * (teeth + 2), sigma))
            for p in PITCHES
        }
        for candidate in found:
            assert candidate.probability == pytest.approx(
                density[candidate.name] / sum(density.values()), abs=1e-9
            )


def test_a_diameter_that_no_pitch_explains_is_said_so_with_the_nearest() -> None:
    # An enlarged pinion: 9 teeth of 64 pitch turned 0.3 over.
    found = identify_pitch(9, outside_diameter_mm=4.665625, u_mm=U_MM)
    assert found[0].name == NO_STANDARD_PITCH
    assert found[0].module_mm == pytest.approx(4.665625 / 11)
    assert found[0].probability > 0.99
    assert found[1].name == "module 0.4"
    assert len(found) == len(PITCHES) + 1


def test_just_past_three_sigma_the_chance_is_the_two_sided_tail() -> None:
    sigma = math.hypot(U_MM, 0.03)
    found = identify_pitch(28, outside_diameter_mm=15.0 + 3.001 * sigma, u_mm=U_MM)
    # 0.27 % lie outside three standard deviations: any table of the normal.
    assert found[0].probability == pytest.approx(0.9973, abs=1e-4)
    assert found[1].name == "module 0.5"
    assert found[1].probability == pytest.approx(0.0027, abs=1e-4)


@pytest.mark.parametrize("teeth", [0, 3, 2000])
def test_teeth_of_no_gear_are_refused(teeth: int) -> None:
    with pytest.raises(TeethError):
        identify_pitch(teeth, outside_diameter_mm=4.4, u_mm=U_MM)


@pytest.mark.parametrize(
    ("diameter", "u_mm"),
    [
        (0.0, 0.01),
        (-4.4, 0.01),
        (math.nan, 0.01),
        (4.4, -0.01),
        (4.4, math.nan),
        (4.4, math.inf),
    ],
)
def test_sizes_that_are_none_are_refused(diameter: float, u_mm: float) -> None:
    with pytest.raises(NotALengthError):
        identify_pitch(9, outside_diameter_mm=diameter, u_mm=u_mm)
