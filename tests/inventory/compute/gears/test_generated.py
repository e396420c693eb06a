"""Undercut, against teeth that a rack cut point by point, and an open library."""

import numpy as np
import pytest

from inventory.compute.gears import MeshState, mesh, spur
from inventory.compute.gears.generated import RACK_CORNER, involute_start
from tests.inventory.compute.gears.outlines import (
    ALPHA,
    backlash_of_contact,
    generated_start,
)


@pytest.mark.parametrize("teeth", [7, 8, 9, 12, 15, 20, 28])
@pytest.mark.parametrize("corner", [0.0, 0.25, RACK_CORNER])
def test_involute_begins_where_a_rolled_rack_leaves_it(
    teeth: int, corner: float
) -> None:
    start = involute_start(teeth, pressure_angle_rad=ALPHA, shift=0.0, corner=corner)
    # Places are tried 0.001 apart.
    cut = generated_start(teeth=teeth, corner=corner)
    assert float(start) == pytest.approx(cut, abs=8e-3)


@pytest.mark.parametrize(
    ("teeth", "shift"), [(9, 0.2), (9, 0.474), (12, 0.3), (28, -0.5)]
)
def test_shifted_teeth_begin_there_too(teeth: int, shift: float) -> None:
    start = involute_start(teeth, pressure_angle_rad=ALPHA, shift=shift)
    cut = generated_start(teeth=teeth, corner=RACK_CORNER, shift=shift)
    assert float(start) == pytest.approx(cut, abs=8e-3)


def contact(z1: int, z2: int, corner: float) -> float:
    """Contact ratio at the standard distance from where the involutes begin."""
    first, second = (
        float(involute_start(z, pressure_angle_rad=ALPHA, shift=0.0, corner=corner))
        for z in (z1, z2)
    )
    line = (z1 + z2) / 2 * np.sin(ALPHA)
    ends = [np.sqrt((z / 2 + 1) ** 2 - (z / 2 * np.cos(ALPHA)) ** 2) for z in (z1, z2)]
    path = min(ends[0], line - second) - max(line - ends[1], first)
    return float(path / (np.pi * np.cos(ALPHA)))


@pytest.mark.parametrize(
    ("z1", "z2", "corner", "ratio"),
    [
        # C5-23; the first two are py-gearworks' own with undercut enabled.
        (12, 24, 0.0, 1.1847), (9, 27, 0.0, 0.9276),
        (12, 24, 0.25, 1.242), (12, 24, 0.38, 1.275),
        (9, 27, 0.25, 0.976), (9, 27, 0.38, 1.003),
        (8, 28, 0.0, 0.843), (8, 28, 0.25, 0.888), (8, 28, 0.38, 0.913),
        (7, 28, 0.0, 0.759), (7, 28, 0.25, 0.800), (7, 28, 0.38, 0.823),
    ],
)  # fmt: skip
def test_published_contact_ratios(
    z1: int, z2: int, corner: float, ratio: float
) -> None:
    assert contact(z1, z2, corner) == pytest.approx(ratio, abs=6e-4)


@pytest.mark.parametrize(
    ("z1", "z2", "cut", "enlarged"),
    # C5-23: generated with the rack of ISO 53, and enlarged just enough.
    [(8, 28, 0.913, 1.330), (9, 28, 1.003, 1.373), (12, 30, 1.275, 1.480)],
)
def test_both_contact_ratios_are_given(
    z1: int, z2: int, cut: float, enlarged: float
) -> None:
    pair = mesh(spur(z1, module_mm=0.5), spur(z2, module_mm=0.5))
    assert pair.contact_ratio == pytest.approx(cut, abs=1e-3)
    assert pair.enlarged_contact_ratio == pytest.approx(enlarged, abs=1.5e-3)
    # It runs if it is enlarged: whoever holds it knows.
    assert pair.state is MeshState.GOOD


def test_pinion_that_is_enlarged_already_gains_nothing() -> None:
    pinion = spur(8, module_mm=0.5, shift=0.54)
    pair = mesh(pinion, spur(28, module_mm=0.5, shift=-0.54))
    assert pair.contact_ratio == pytest.approx(1.329, abs=4e-3)
    assert pair.enlarged_contact_ratio == pytest.approx(pair.contact_ratio, abs=1e-9)


def test_unknown_teeth_have_no_start() -> None:
    found = involute_start([9, np.nan], pressure_angle_rad=ALPHA, shift=0.0)
    assert np.isnan(found[1])
    assert found[0] > 0


@pytest.mark.parametrize(
    ("teeth", "shifts"),
    [((18, 30), (0.2, 0.1)), ((9, 28), (0.474, 0.0)), ((18, 30), (0.0, 0.0))],
)
def test_backlash_and_tight_distance_are_those_of_outlines_turned_to_contact(
    teeth: tuple[int, int], shifts: tuple[float, float]
) -> None:
    pair = tuple(
        spur(z, module_mm=1.0, shift=x) for z, x in zip(teeth, shifts, strict=True)
    )
    tight = mesh(*pair).tight_centre_distance_mm
    touching = backlash_of_contact(teeth=teeth, shifts=shifts, distance=tight)
    assert touching == pytest.approx(0.0, abs=2e-6)
    for more in (0.02, 0.058):
        run = mesh(*pair, centre_distance_mm=tight + more)
        turned = backlash_of_contact(teeth=teeth, shifts=shifts, distance=tight + more)
        # C5-44: two methods agree to a third of a micrometre.
        assert run.backlash_mm == pytest.approx(turned, abs=2e-6)
