"""
How long the fit of gears, the remedies and the wear of one car take.

Run as ``python -m tests.bench.bench_fit``.  Prints figures, asserts nothing.
"""

import resource
import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np

from inspection.compute.fit import Envelope, Mounting, best_first, gear_fit
from inspection.compute.judging.evaluation import Field, Rules
from inspection.compute.quantities.registry import Layout
from inspection.compute.remedies.changes import remedies
from inspection.compute.what_if import Doubt, Gears, Motors, Pairs, Pinions, Stock
from inspection.compute.what_if.wear_limits import wear_limit
from tests.inspection.compute.cars import LEVEL, make_field, make_rules

T = TypeVar("T")

#: Forty rules, most of them on how the car stands; invented limits.
LIMITS: list[tuple[str, float | None, float | None]] = [
    ("clearance_rear", 0.8, None),
    ("clearance_front", 0.8, None),
    ("clearance_least", 0.5, None),
    ("clearance_gear", 0.8, None),
    ("clearance_motor", 0.8, None),
    ("ride_height_rear", 0.8, 3.0),
    ("ride_height_front", 0.8, 3.0),
    ("twist", -0.3, 0.3),
    ("rake", -1.0, 1.0),
    ("tilt", -1.0, 1.0),
    ("axle_level", -0.3, 0.3),
    ("tyre_mismatch_rear", -0.2, 0.2),
    ("gear_ratio", 2.5, 4.0),
    ("rollout", 10.0, 30.0),
    ("tyre_diameter_rear", 18.0, 24.0),
    ("width_rear", None, 80.0),
    ("width_front", None, 80.0),
    ("track_rear", 50.0, 70.0),
    ("weight_car", 180.0, None),
    ("motor_axle_offset", -3.0, 3.0),
]


def car_of_layout(layout: Layout) -> Field:
    """One car that its gear sends back: 0.20 under it where 0.80 is asked."""
    return make_field(
        [
            LEVEL
            | {
                "layout": float(tuple(Layout).index(layout)),
                "gear_diameter": 20.0,
                "axle_diameter": 2.38,
                "can_length": 28.0,
                "can_half_width": 14.0,
            }
        ]
    )


def rules_for(car: Field) -> Rules:
    return make_rules(car, LIMITS * 2)


def envelope_of(car: Field) -> Envelope:
    return Envelope(
        car=car,
        rulebook=rules_for(car),
        mounting=Mounting(
            slot_low_mm=np.array([8.0]),
            slot_high_mm=np.array([11.0]),
            axle_to_bar_mm=np.array([11.0]),
            axle_room_mm=np.array([9.0]),
            arch_width_mm=np.array([18.0]),
            bay_height_mm=np.array([18.0]),
            bay_width_mm=np.array([25.0]),
            bay_length_mm=np.array([32.0]),
        ),
        pinion=Pinions(
            teeth=np.array([10.0]),
            module_mm=np.array([0.5]),
            bore_mm=np.array([2.0]),
            length_mm=np.array([5.0]),
        ),
    )


def known(count: int, gauge: int) -> Doubt:
    u = np.full(count, 0.01)
    return Doubt(random=u, systematic=u, gauge=np.full(count, gauge))


def some_gears(count: int, rng: np.random.Generator) -> Gears:
    teeth = rng.integers(24, 40, count).astype(np.float64)
    module = rng.choice([0.4, 0.5, 25.4 / 64, 25.4 / 48], count)
    return Gears(
        teeth=teeth,
        outside_diameter_mm=module * (teeth + 2) + rng.normal(0, 0.02, count),
        module_mm=module,
        family=rng.choice(["", "long ago"], count),
        bore_mm=2.38 + rng.uniform(-0.05, 0.1, count),
        hub_width_mm=rng.uniform(4, 10, count),
        doubts={"outside_diameter_mm": known(count, 0)},
    )


def some_stock(pairs: int, gears: int, motors: int) -> Stock:
    rng = np.random.default_rng(5)
    size = rng.uniform(18.5, 21.5, pairs)
    return Stock(
        pairs=Pairs(
            left_diameter_mm=size,
            right_diameter_mm=size + rng.normal(0, 0.03, pairs),
            width_mm=rng.uniform(15, 17, pairs),
            bore_mm=2.38 + rng.uniform(0, 0.04, pairs),
            doubts={
                "left_diameter_mm": known(pairs, -1),
                "right_diameter_mm": known(pairs, -1),
            },
        ),
        gears=some_gears(gears, rng),
        motors=Motors(
            can_height_mm=rng.uniform(15, 18, motors),
            can_width_mm=np.full(motors, 20.0),
            can_length_mm=np.full(motors, 28.0),
            shaft_diameter_mm=np.full(motors, 1.98),
            shaft_length_mm=np.full(motors, 8.0),
        ),
    )


def timed(what: str, work: Callable[[], T]) -> T:
    start = time.perf_counter()
    result = work()
    seconds = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{what:58} {seconds:7.3f} s   peak {peak:6.0f} MiB")
    return result


def main() -> None:
    """Time each."""
    car = car_of_layout(Layout.SIDEWINDER)
    envelope, rulebook = envelope_of(car), rules_for(car)
    gears = some_gears(100_000, np.random.default_rng(4))
    fit = timed(
        "100,000 gears against a car, every check",
        lambda: gear_fit(gears, envelope),
    )
    timed("    which fit, best first", lambda: (fit.fits, best_first(fit)))
    timed("    ten of them in words", lambda: [fit.rows(row) for row in range(10)])
    timed("    legal-to tyre diameter of each", lambda: fit.legal_to_mm)
    print(f"    {int(fit.fits.sum()):,} fit")
    timed("wear limit of a car, 40 rules", lambda: wear_limit(rulebook, car))
    stock = some_stock(500, 200, 50)
    found = timed(
        "500 pairs × 200 gears × 50 motors, rules alone",
        lambda: remedies(rulebook, car, stock),
    )
    print(f"    {len(found)} remedies")
    found = timed(
        "500 pairs × 200 gears × 50 motors, rules and fit",
        lambda: remedies(rulebook, car, stock, envelope=envelope),
    )
    print(f"    {len(found)} remedies")


if __name__ == "__main__":
    main()
