"""
What the uncertainties of a field's findings cost beside the formulas alone.

Run as ``python -m tests.bench.bench_rules``.  Prints figures, asserts nothing.
Times are of the processor, so that a busy machine does not blur them.
"""

import resource
import sys
import time
from collections.abc import Callable

import numpy as np

from inspection.compute.judging.evaluation import Field, Rules, evaluate, margins
from tests.bench.figures import Figure
from tests.inspection.compute.cars import DERIVED, LEVEL, make_field, make_rules

CARS = 10_000
RULES = 40
AIM = 6
#: So many sets of gauges a club has: nights between which they were checked.
PATTERNS = 20
MILLION, BLOCK = 1_000_000, 10_000


def field_of(cars: int, *, gauges: str) -> Field:
    """
    Make cars about a level one, a third of them carried by the guide.

    ``gauges``: ``usual``, each car's readings off four gauges of its own night;
    ``a club's``, of one of twenty nights; or ``any``, each reading off any of five.
    """
    rng = np.random.default_rng(1)
    level = make_field([LEVEL], also=DERIVED)
    measured = level.random > 0
    shape = (cars, len(level.columns))
    value = level.value + np.where(measured, rng.normal(0.0, 0.05, shape), 0.0)
    value[::3, level.columns.index("front_carrier")] = 1.0
    nights = PATTERNS if gauges == "a club's" else 1_000
    night = rng.integers(0, nights, (cars, 1)) * 10
    kind = np.array([_gauge_kind(name) for name in level.columns])
    usual = night + kind
    return Field(
        columns=level.columns,
        value=value,
        random=np.repeat(level.random, cars, axis=0),
        systematic=np.repeat(level.systematic, cars, axis=0),
        gauge=rng.integers(0, 5, shape) if gauges == "any" else usual,
    )


def _gauge_kind(name: str) -> int:
    words = [("tyre", "width"), ("height",), ("can", "motor")]
    found = [at for at, some in enumerate(words) if any(one in name for one in some)]
    return found[0] if found else len(words)


def rules_of(field: Field) -> Rules:
    """Forty rules; every derived quantity, each twice."""
    limits = [(key, 0.1, 30.0) for key in DERIVED] * 2
    return make_rules(field, limits[:RULES])


def seconds(function: Callable[[Rules, Field], object], field: Field) -> float:
    """Least processor time of five runs."""
    rules, times = rules_of(field), []
    for _ in range(5):
        start = time.process_time()
        function(rules, field)
        times.append(time.process_time() - start)
    return min(times)


def main() -> None:
    print(f"{CARS:,} cars × {RULES} rules; aim: at most {AIM} × the formulas alone")
    for gauges in ("a club's", "usual", "any"):
        field = field_of(CARS, gauges=gauges)
        inputs = int((field.random[0] > 0).sum() - np.isnan(field.value[0]).sum())
        bare, full = seconds(margins, field), seconds(evaluate, field)
        print(f"  gauges: {gauges}, {inputs} inputs with an uncertainty")
        print(f"    formulas alone     {bare:8.3f} s")
        print(f"    with uncertainty   {full:8.3f} s = {full / bare:.1f} ×")
        Figure(
            what=f"{CARS:,} cars × {RULES} rules, gauges: {gauges}",
            promised=f"≤ {AIM} ×" if gauges == "a club's" else "",
            measured=f"{full / bare:.1f} ×",
            beside="the formulas alone",
        ).say()
    one = field_of(1, gauges="usual")
    bare, full = seconds(margins, one), seconds(evaluate, one)
    print("one car")
    print(f"    formulas alone     {1e3 * bare:8.1f} ms")
    print(f"    with uncertainty   {1e3 * full:8.1f} ms")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"most memory of the whole run, libraries and all: {peak:.0f} MiB")


def in_blocks(cars: int) -> None:
    """Judge many cars, a block of them in memory at a time."""
    start, field = time.process_time(), field_of(BLOCK, gauges="a club's")
    rules = rules_of(field)
    for _ in range(cars // BLOCK):
        evaluate(rules, field)
    spent = time.process_time() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{cars:,} cars in blocks of {BLOCK:,}: {spent:.0f} s, {peak:.0f} MiB")
    Figure(
        what=f"{cars:,} cars × {RULES} rules in blocks: memory, libraries and all",
        promised="≤ 600 MiB",
        measured=f"{peak:.0f} MiB",
        beside=f"{1e6 * spent / cars:.0f} µs a car",
    ).say()


if __name__ == "__main__":
    main()
    in_blocks(MILLION if "--long" in sys.argv else MILLION // 10)
