"""Bores on shafts: as sure as both were read, held against drawn pairs of them."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from inspection.compute.fit import (
    Check,
    CheckState,
    Envelope,
    GearFit,
    MotorFit,
    TyreFit,
    gear_fit,
    motor_fit,
    pinion_fit,
    tyre_fit,
)
from inspection.compute.what_if import Pairs
from inspection.words.fit import check_words
from inventory.compute.stock import Fixing
from tests.inspection.compute.fit.fit_cars import (
    a_motor,
    a_pinion,
    codes,
    column,
    doubt,
    gears,
    sidewinder,
)

#: Pin gauges that may err 0.01, read to 0.005; a micrometer that may err 0.004.
BORE_U = (0.005, 0.0058)
SHAFT_U = (0.002, 0.0023)
U_MM = float(np.linalg.norm([*BORE_U, *SHAFT_U]))


def car(shaft_mm: float) -> Envelope:
    """Give a car whose axle was read, with a motor whose shaft was."""
    envelope = sidewinder({"axle_diameter": shaft_mm})
    place = envelope.car.columns.index("axle_diameter")
    envelope.car.random[:, place], envelope.car.systematic[:, place] = SHAFT_U
    motor = replace(
        a_motor(shaft_diameter_mm=shaft_mm),
        doubts={"shaft_diameter_mm": doubt(*SHAFT_U, -1)},
    )
    return replace(envelope, motor=motor)


def fit_of(bored: str, bore_mm: float, shaft_mm: float) -> GearFit | TyreFit | MotorFit:
    envelope, of_bore = car(shaft_mm), {"bore_mm": doubt(*BORE_U, -1)}
    screwed = codes(Fixing.SCREW)
    if bored == "gear":
        spur = gears([{"teeth": 27.0, "bore_mm": bore_mm}], fixing=screwed)
        return gear_fit(replace(spur, doubts=of_bore), envelope)
    if bored == "wheels":
        tyres = Pairs(
            left_diameter_mm=column(20.0),
            right_diameter_mm=column(20.0),
            bore_mm=column(bore_mm),
            fixing=screwed,
            doubts=of_bore,
        )
        return tyre_fit(tyres, envelope)
    pinion = replace(a_pinion(bore_mm=bore_mm), fixing=screwed, doubts=of_bore)
    if bored == "pinion":
        return pinion_fit(pinion, envelope)
    return motor_fit(envelope.motor, replace(envelope, pinion=pinion))


@pytest.mark.parametrize("bored", ["gear", "wheels", "pinion", "pinion on a motor"])
@pytest.mark.parametrize(
    ("over_mm", "state"),
    [
        # Screwed on, 0 to 0.05 mm over the shaft; u = 0.0082, 0.0136 at 1.645 u.
        (-0.020, "fails"),
        (-0.013, "too close to call"),
        (0.000, "too close to call"),
        (0.013, "too close to call"),
        (0.015, "holds"),
        (0.025, "holds"),
        (0.035, "holds"),
        (0.037, "too close to call"),
        (0.063, "too close to call"),
        (0.070, "fails"),
    ],
)
def test_bore_is_judged_with_its_doubt_and_the_shafts(
    bored: str, over_mm: float, state: str
) -> None:
    """Of bores and shafts as they may truly be, one in twenty at most falsely said."""
    shaft_mm = 2.38
    fit = fit_of(bored, shaft_mm + over_mm, shaft_mm)
    (row,) = (one for one in fit.rows(0) if one.check is Check.BORE)
    assert row.state == state
    assert row.u == pytest.approx(U_MM)
    chance = np.random.default_rng(5)
    bores, shafts = (
        mean + sum(chance.normal(0.0, part, 200_000) for part in parts)
        for mean, parts in ((shaft_mm + over_mm, BORE_U), (shaft_mm, SHAFT_U))
    )
    outside = np.count_nonzero((bores < shafts) | (bores > shafts + 0.05)) / 200_000
    assert (outside <= 0.05) == (state == "holds")
    assert (outside >= 0.95) == (state == "fails")


def test_bore_that_nobody_read_is_as_it_is_said() -> None:
    """A maker's 2.38 on a maker's 2.38 is the same size, and goes on."""
    fit = gear_fit(gears([{"teeth": 27.0, "bore_mm": 2.38}]), sidewinder())
    (row,) = (one for one in fit.rows(0) if one.check is Check.BORE)
    assert (row.state, row.margin, row.u) == ("holds", 0.0, 0.0)


#: Sizes in use of axles and shafts, mm: common practice, no source.
IN_USE = (2.00, 2.38, 2.50, 3.00, 3.18)


def test_bore_by_a_calipers_tips_is_told_by_its_size() -> None:
    """Nowhere in 0.05 mm is it 1.645 u from both ends, and 0.12 mm it tells apart."""
    chance, u_mm, times = np.random.default_rng(5), 0.012 * 2**0.5, 200
    right = []
    for bored, shaft in product(IN_USE, IN_USE):
        read = bored + chance.uniform(0.0, 0.05, times) + chance.normal(0, u_mm, times)
        spurs = gears(
            [{"teeth": 27.0, "bore_mm": float(one)} for one in read],
            fixing=codes(*(Fixing.SCREW,) * times),
        )
        of_bore = doubt(0.012, 0.012, -1, rows=times)
        spurs = replace(spurs, doubts={"bore_mm": of_bore})
        fit = gear_fit(spurs, sidewinder({"axle_diameter": shaft}))
        at = fit.table.checks.index(Check.BORE)
        said = {CheckState.HOLDS.code: True, CheckState.FAILS.code: False}
        right += [
            said[code] == (bored == shaft) for code in fit.table.state[:, at].tolist()
        ]
    assert np.mean(right) > 0.98


def test_one_size_is_said_beside_what_the_fit_asks() -> None:
    spur = gears([{"teeth": 27.0, "bore_mm": 2.40}], fixing=codes(Fixing.SCREW))
    spur = replace(spur, doubts={"bore_mm": doubt(0.012, 0.012, -1)})
    fit = gear_fit(spur, sidewinder({"axle_diameter": 2.38}))
    (row,) = (one for one in fit.rows(0) if one.check is Check.BORE)
    assert check_words(row) == (
        "Bore over shaft: 0.02 mm, 0.00 to 0.05 mm wanted; one size, as far as it was "
        "read: try how tightly it sits."
    )
    assert fit.fits[0]
