"""Who is set aside before pairing, and why."""

import math
from typing import Any

import numpy as np
import pytest

from inventory.compute.pairing import (
    RejectLimits,
    RejectReason,
    Rejects,
    find_rejects,
    pair_by_size,
)
from inventory.compute.pairing.rejects import NotATyreRowError

LIMITS = RejectLimits(
    low_mm=15, high_mm=25, out_of_round_mm=0.05, taper_mm=0.04, reading_count=3
)


def reject(
    diameter: float = 20.0,
    out_of_round: float = 0.0,
    taper: float = 0.0,
    count: int = 3,
) -> Rejects:
    return find_rejects(
        [diameter],
        out_of_round_mm=[out_of_round],
        taper_mm=[taper],
        reading_count=[count],
        limits=LIMITS,
    )


@pytest.mark.parametrize(
    ("tyre", "reasons"),
    [
        ({}, ()),
        # 20.05 - 20.00 is 0.05000000000000071: at the limit, and allowed.
        ({"out_of_round": 20.05 - 20.00}, ()),
        ({"out_of_round": 0.06}, (RejectReason.OUT_OF_ROUND,)),
        ({"taper": 0.04}, ()),
        ({"taper": -0.04}, ()),
        ({"taper": 0.05}, (RejectReason.TAPER,)),
        ({"taper": -0.05}, (RejectReason.TAPER,)),
        ({"out_of_round": math.nan, "taper": math.nan}, ()),
        ({"count": 2}, (RejectReason.SINGLE_READING,)),
        ({"diameter": 15.0}, ()),
        ({"diameter": 25.0}, ()),
        ({"diameter": 2.001}, (RejectReason.SLIP_OF_THE_DECIMAL,)),
        ({"diameter": 14.99}, (RejectReason.IMPLAUSIBLE,)),
        ({"diameter": -20.0}, (RejectReason.IMPLAUSIBLE,)),
        ({"diameter": math.nan}, (RejectReason.IMPLAUSIBLE,)),
        (
            {"diameter": 201.0, "out_of_round": 1.0, "taper": -1.0, "count": 1},
            tuple(RejectReason)[:4],
        ),
    ],
)
def test_each_reason_holds_past_its_limit(
    tyre: dict[str, Any], reasons: tuple[RejectReason, ...]
) -> None:
    rejects = reject(**tyre)
    assert rejects.of(0) == reasons
    assert rejects.eligible.tolist() == ([] if reasons else [0])


@pytest.mark.parametrize(
    ("typed", "meant"),
    [(2.001, 20.01), (200.1, 20.01), (20010.0, 20.01), (0.788, 20.0152)],
)
def test_slip_comes_with_what_was_meant(typed: float, meant: float) -> None:
    # Ten, a tenth, micrometres, an inch: 0.788 in is 20.0152 mm by C9-01.
    assert reject(typed).suggestion_mm == pytest.approx([meant])


def test_the_eligible_pair_and_the_reasons_stay_with_their_tyres() -> None:
    rejects = find_rejects(
        [20.00, 20.30, 20.01, 2.003],
        out_of_round_mm=[0.01, 0.08, 0.02, 0.01],
        taper_mm=[0.0] * 4,
        reading_count=[3] * 4,
        limits=LIMITS,
    )
    assert rejects.eligible.tolist() == [0, 2]
    assert rejects.reasons.shape == (4, len(RejectReason))
    assert np.isnan(rejects.suggestion_mm).tolist() == [True, True, True, False]
    size = np.array([20000, 20300, 20010, 2003])[rejects.eligible]
    pairs = pair_by_size(size, tolerance_um=50)
    assert rejects.eligible[pairs.second].tolist() == [2]


def test_no_tyres_no_rejects() -> None:
    rejects = find_rejects(
        [], out_of_round_mm=[], taper_mm=[], reading_count=[], limits=LIMITS
    )
    assert rejects.eligible.size == 0
    assert rejects.reasons.shape == (0, len(RejectReason))


@pytest.mark.parametrize(
    ("diameter", "limits"),
    [
        ([20.0, 20.0], LIMITS),
        ([[20.0]], LIMITS),
        ([20.0], RejectLimits(low_mm=25, high_mm=15)),
        ([20.0], RejectLimits(low_mm=15, high_mm=math.nan)),
        ([20.0], RejectLimits(low_mm=15, high_mm=25, taper_mm=-0.01)),
        ([20.0], RejectLimits(low_mm=15, high_mm=25, out_of_round_mm=-0.01)),
    ],
)
def test_rows_and_limits_that_do_not_fit_are_refused(
    diameter: Any, limits: RejectLimits
) -> None:
    with pytest.raises(NotATyreRowError):
        find_rejects(
            diameter,
            out_of_round_mm=np.zeros_like(diameter[:1]),
            taper_mm=np.zeros_like(diameter[:1]),
            reading_count=np.zeros_like(diameter[:1]),
            limits=limits,
        )
    with pytest.raises(NotATyreRowError):
        find_rejects(
            20.0, out_of_round_mm=0.0, taper_mm=0.0, reading_count=3, limits=LIMITS
        )
