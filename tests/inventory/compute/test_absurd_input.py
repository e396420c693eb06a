"""What no club will ever measure is refused by an error of our own, not Python's."""

from collections.abc import Callable
from math import inf

import pytest

from inspection.compute.jig import choose_shims
from inventory.compute.errors import ComputeError
from inventory.compute.gears import (
    centre_distance_for_backlash,
    identify_pitch,
    mesh,
    rollout_mm,
    spur,
    tip_form_u_mm,
    true_outside_diameter_mm,
)
from inventory.compute.measuring import (
    Gauge,
    StudyMethod,
    check_against_master,
    estimate,
    estimates,
    gauge_study,
    interval_estimate,
    tyre_forms,
)
from inventory.compute.motors import match_motors
from inventory.compute.numbers import format_value
from inventory.compute.pairing import (
    match_sets,
    pair_by_features,
    pair_by_size,
    pair_with_stagger,
    plan_truing,
    range_probability,
    steer,
    within_probability,
)

GAUGE = Gauge(0.01, 0.02, 0.01)
PINION = spur(9, module_mm=0.4)
SIZES = [18_000, 18_100]
RAGGED = [[[1.0, 2.0], [1.0]], [[1.0, 2.0], [1.0, 2.0]]]
HUGE = 9e18

ASKED: dict[str, Callable[[], object]] = {
    "value": lambda: format_value(1e28, decimals=2),
    "decimals": lambda: format_value(1.0, decimals=10**6),
    "pitch": lambda: identify_pitch(9, outside_diameter_mm=4e152, u_mm=0.01),
    "u of a pitch": lambda: identify_pitch(9, outside_diameter_mm=4.0, u_mm=1e308),
    "module": lambda: spur(9, module_mm=4e152),
    "teeth": lambda: spur(10**30, module_mm=0.4),
    "jaws": lambda: true_outside_diameter_mm(1e308, 9),
    "tips": lambda: tip_form_u_mm(1e308, 9),
    "distance": lambda: mesh(PINION, PINION, centre_distance_mm=1e305),
    "backlash": lambda: centre_distance_for_backlash(PINION, PINION, backlash_mm=1e305),
    "rollout": lambda: rollout_mm(1e308, 1e308),
    "study": lambda: gauge_study(RAGGED, method=StudyMethod.ANALYSIS_OF_VARIANCE),
    "study of words": lambda: gauge_study(
        [[["a"]]], method=StudyMethod.AVERAGE_AND_RANGE
    ),
    "large study": lambda: gauge_study(
        [[[1e200, 1.0]] * 2] * 2, method=StudyMethod.ANALYSIS_OF_VARIANCE
    ),
    "master": lambda: check_against_master([[1.0], [1.0, 2.0]], master=1, gauge=GAUGE),
    "readings": lambda: estimate([1e200, -1e200], GAUGE),
    "ragged readings": lambda: estimates([[1.0], [1.0, 2.0]], GAUGE),
    "interval": lambda: interval_estimate(0.0, 1e305, GAUGE),
    "form": lambda: tyre_forms(RAGGED, GAUGE),
    "shims": lambda: choose_shims(1.0, [1e305]),
    "thicker shims": lambda: choose_shims(1.0, [1e307]),
    "stack": lambda: choose_shims(1e305, [0.1]),
    "tolerance": lambda: pair_by_size(SIZES, tolerance_um=int(HUGE)),
    "stagger": lambda: pair_with_stagger(SIZES, stagger_um=100, tolerance_um=int(HUGE)),
    "set": lambda: match_sets(SIZES, set_size=10**30, tolerance_um=1),
    "removal": lambda: plan_truing(SIZES, max_removal_um=int(HUGE), floor_um=0),
    "features": lambda: pair_by_features(
        [[1.0], [1.0, 2.0]], tolerances=[1.0], weights=[1.0]
    ),
    "ragged set": lambda: range_probability(
        [[1.0], [1.0, 2.0]], [[0.1], [0.1, 0.1]], tolerance_mm=1.0
    ),
    "difference": lambda: within_probability(inf, 0.01, tolerance_mm=0.05),
    "track": lambda: steer(18.0, 18.1, -1e305),
    "motors": lambda: match_motors(
        [20_000.0, 1e300],
        [2.0, 2.0],
        set_size=2,
        tolerance_rpm=1e300,
        tolerance_ohm=1.0,
    ),
}


@pytest.mark.parametrize("asked", ASKED.values(), ids=ASKED)
def test_absurd_input_is_refused_in_words(asked: Callable[[], object]) -> None:
    with pytest.raises(ComputeError) as refusal:
        asked()
    assert str(refusal.value)
    assert refusal.value.code != ComputeError.code
