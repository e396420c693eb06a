"""The share of a crown's teeth that a pinion covers, against a scan of the shaft."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspection.compute.fit.crowns import CrownMesh, covered_share

_TENTH = st.integers(5, 60).map(lambda n: n / 10)


def share(sizes: list[float]) -> float:
    columns = (np.array([size]) for size in sizes)
    names = (
        "outside_diameter_mm",
        "tooth_band_mm",
        "pinion_face_mm",
        "pinion_length_mm",
        "shaft_end_mm",
        "shaft_length_mm",
        "axle_over_shaft_mm",
    )
    mesh = CrownMesh(**dict(zip(names, columns, strict=True)))
    return float(covered_share(mesh)[0])


@settings(max_examples=60, deadline=None)
@given(
    diameter=st.integers(120, 240).map(lambda n: n / 10),
    band=st.integers(10, 40).map(lambda n: n / 10),
    face=_TENTH,
    hub=st.integers(0, 30).map(lambda n: n / 10),
    end=_TENTH,
    spare=st.integers(0, 80).map(lambda n: n / 10),
    over=st.integers(-30, 30).map(lambda n: n / 10),
)
def test_share_is_the_best_of_all_places_on_the_shaft(
    diameter: float,
    band: float,
    face: float,
    hub: float,
    end: float,
    spare: float,
    over: float,
) -> None:
    # The shaft holds the pinion and some to spare.
    places = end + np.linspace(0.0, spare, 2001)
    outer = diameter / 2
    low = np.maximum(np.hypot(places, over), outer - band)
    high = np.minimum(np.hypot(places + face, over), outer)
    best = max(float((high - low).max()), 0.0) / min(face, band)
    got = share([diameter, band, face, face + hub, end, face + hub + spare, over])
    assert got >= best - 1e-9
    # One step of the scan is spare / 2000.
    assert got == pytest.approx(best, abs=spare / 1000 / min(face, band) + 1e-9)


def test_a_pinion_longer_than_the_shaft_stays_at_its_end() -> None:
    # Teeth from 6.0 to 8.5; the face from 5.5 to 8.5 whatever the shaft's length.
    assert share([17.0, 2.5, 3.0, 4.0, 5.5, 1.0, 0.0]) == pytest.approx(1.0)
    assert share([17.0, 2.5, 3.0, 4.0, 7.5, 1.0, 0.0]) == pytest.approx(0.4)


def test_a_size_not_known_gives_no_share() -> None:
    assert math.isnan(share([17.0, math.nan, 3.0, 4.0, 5.5, 6.0, 0.0]))
