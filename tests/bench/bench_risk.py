"""
Stated against simulated risk near a limit, by kind of quantity and decision rule.

Run as ``python -m tests.bench.bench_risk``.  Prints a table and, in the same run, what
judging places together costs; asserts nothing.  Each number: of 100 level cars whose
true value lies so far inside the limit, how many are refused.
"""

import time
from dataclasses import replace
from unittest.mock import patch

import numpy as np
from scipy.stats import norm

from inspection.compute.judging import DecisionRule, Rules, evaluate, judged_pairs
from inspection.compute.judging.pairs import JudgedPairs
from inspection.compute.stance import Field
from tests.bench.bench_rules import field_of, rules_of
from tests.inspection.compute.judging.drawn_cars import (
    LEAST_OR_MOST,
    read_again,
    rules_at,
    true_car,
)

CARS = 10_000
INSIDE = (-2.0, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0)
GUARD = {
    DecisionRule.SIMPLE_ACCEPTANCE: 0.0,
    DecisionRule.GUARDED_ACCEPTANCE: 1.644854,
    DecisionRule.GUARDED_REJECTION: -1.644854,
}
#: One car in twenty within three u of a limit.
NEAR = 0.05


def refused(rule: DecisionRule, inside: float) -> list[float]:
    car = true_car("level")
    field = read_again(car, CARS, np.random.default_rng(22))
    found = evaluate(rules_at(car, CARS, rule, off=-inside), field)
    return [float(share) for share in 100 * (1 - found.admitted.mean(axis=0))]


def table() -> None:
    print("| refused of 100, true value inside by |", end="")
    print("".join(f" {inside:+g} u |" for inside in INSIDE).replace("+0", "0"))
    print("| --- |" + " ---: |" * len(INSIDE))
    for rule in DecisionRule:
        stated = [100 * norm.cdf(GUARD[rule] - inside) for inside in INSIDE]
        line(f"**{rule}**, one place, stated", stated)
        found = [refused(rule, inside) for inside in INSIDE]
        for at, key in enumerate(LEAST_OR_MOST):
            line(key.replace("_", " "), [shares[at] for shares in found])


def line(name: str, shares: list[float]) -> None:
    print(f"| {name} |" + "".join(f" {share:.1f} |" for share in shares))


def near_rules(field: Field) -> Rules:
    """Forty rules whose limits one car in twenty is near."""
    rules = rules_of(field)
    found = evaluate(rules, field)
    lower = np.full(rules.count, np.nan)
    for at in range(rules.count):
        value, u = found.value[:, at], found.u[:, at]
        grid = np.nanquantile(value, np.linspace(0.0, 0.2, 60))
        grid = np.append(grid, np.nanmin(value) - 2.5 * np.nanmedian(u))
        share = [(np.abs(value - one) < 3 * u).mean() for one in grid]
        lower[at] = grid[int(np.argmin(np.abs(np.array(share) - NEAR)))]
    nothing = np.full(rules.count, np.nan)
    return replace(rules, lower=np.round(lower, 3), upper=nothing)


def cost() -> None:
    field = field_of(CARS, gauges="usual")
    rules = near_rules(field)
    print(f"\n{CARS:,} cars × {rules.count} rules, one in twenty near a limit")
    for rule in DecisionRule:
        some = replace(rules, decision_rule=rule)
        with patch.object(judged_pairs, "judge_together", alone):
            before = seconds(some, field)
        after = seconds(some, field)
        print(
            f"  {rule}: {before:.2f} s, together {after:.2f} s, {after / before:.2f} ×"
        )


def alone(found: JudgedPairs, *_: object) -> JudgedPairs:
    return found


def seconds(rules: Rules, field: Field) -> float:
    """Least processor time of five runs."""
    times = []
    for _ in range(5):
        start = time.process_time()
        evaluate(rules, field)
        times.append(time.process_time() - start)
    return min(times)


if __name__ == "__main__":
    cost()
    table()
