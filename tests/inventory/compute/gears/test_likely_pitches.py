"""Pitches of many unmarked gears, against those of one at a time."""

import numpy as np
import pytest

from inventory.compute.gears.likely_pitches import SURE, sure_modules_mm
from inventory.compute.gears.meshes import NO_STANDARD_PITCH, identify_pitch


def test_many_gears_get_what_each_alone_gets() -> None:
    rng = np.random.default_rng(8)
    teeth = rng.integers(6, 60, 400)
    module = rng.choice([0.4, 0.5, 25.4 / 64, 25.4 / 72, 0.47], 400)
    diameter = module * (teeth + 2) + rng.normal(0, 0.03, 400)
    u_mm = rng.choice([0.0, 0.012, 0.04], 400)
    found = sure_modules_mm(teeth, outside_diameter_mm=diameter, u_mm=u_mm)
    alone = []
    for z, d, u in zip(teeth.tolist(), diameter, u_mm, strict=True):
        best = identify_pitch(z, outside_diameter_mm=float(d), u_mm=float(u))[0]
        is_sure = best.name != NO_STANDARD_PITCH and best.probability >= SURE
        alone.append(best.module_mm if is_sure else np.nan)
    assert 50 < np.isnan(alone).sum() < 350
    np.testing.assert_array_equal(found, alone)


@pytest.mark.parametrize("diameter", [np.nan, 1e-3, 500.0])
def test_size_that_no_pitch_explains_gives_none(diameter: float) -> None:
    found = sure_modules_mm([28], outside_diameter_mm=[diameter], u_mm=[0.01])
    assert np.isnan(found).all()
