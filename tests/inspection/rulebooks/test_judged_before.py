"""
Findings that are kept by what they rest on are those of judging anew, to the digit.

Held against `evaluate` itself with each column changed in turn: were one that a rule
reads left out of what its finding is kept by, the old finding would come back.
"""

from dataclasses import fields, replace

import numpy as np
import pytest

from inspection.compute.judging import DecisionRule, Findings, Rules, evaluate
from inspection.compute.quantities import COLUMNS
from inspection.compute.quantities.quantity import FrontCarrier
from inspection.compute.stance import AT_LEAST, BETWEEN, Field, Ground
from inspection.loaders.rulebooks import judged_before
from inspection.loaders.rulebooks.judged_before import judge_what_changed
from tests.inspection.compute.cars import DERIVED, LEVEL, make_rules

#: In millimetres from the level car, so that it rocks, and a rule is near its limit.
MOVED = 0.013


def every_column(carrier: FrontCarrier) -> Field:
    """Give one car a row, each column of the registry changed in turn."""
    known = {**LEVEL, "front_carrier": float(tuple(FrontCarrier).index(carrier))}
    one = np.array([[known.get(column, np.nan) for column in COLUMNS]])
    rows = np.repeat(one, len(COLUMNS) + 1, axis=0)
    for at, column in enumerate(COLUMNS):
        was = known.get(column)
        rows[at + 1, at] = (was if was is not None else 1.0) + MOVED
        if column in {"layout", "front_carrier", "axle_held", "axle_height_to"}:
            rows[at + 1, at] = 0.0 if was else 1.0
    bound = np.zeros(rows.shape, dtype=np.int8)
    clearance = COLUMNS.index("clearance_rear")
    rows = np.concatenate((rows, rows[:2]))
    rows[-2:, clearance] = 1.72
    bound = np.concatenate((bound, bound[:2]))
    bound[-2:, clearance] = AT_LEAST, BETWEEN
    return Field(
        columns=COLUMNS,
        value=rows,
        random=np.full(rows.shape, 0.01),
        systematic=np.full(rows.shape, 0.01),
        gauge=np.zeros(rows.shape, dtype=np.int64),
        bound=bound,
    )


def rules_of(field: Field, by: DecisionRule) -> Rules:
    limits = dict.fromkeys((*DERIVED, "weight_car", "width_rear"), (1.7, 60.0))
    return make_rules(field, limits, decision_rule=by)


def same(one: Findings, all_of_them: Findings, car: int) -> bool:
    return all(
        np.array_equal(
            getattr(one, name.name)[0],
            getattr(all_of_them, name.name)[car],
            equal_nan=name.name not in {"outcome", "admitted"},
        )
        and getattr(one, name.name).dtype == getattr(all_of_them, name.name).dtype
        for name in fields(Findings)
    )


@pytest.mark.parametrize("by", [DecisionRule.GUARDED_ACCEPTANCE])
@pytest.mark.parametrize("carrier", list(FrontCarrier))
def test_a_changed_column_is_judged_by(by: DecisionRule, carrier: FrontCarrier) -> None:
    field = every_column(carrier)
    rules = rules_of(field, by)
    anew = evaluate(rules, field)
    for car in range(field.car_count):
        some = np.array([car])
        kept = judge_what_changed(rules.take(some), field.take(some))
        assert same(kept, anew, car), COLUMNS[car - 1]
    for part, more in (("random", 0.02), ("systematic", 0.02), ("gauge", 7)):
        changed = getattr(field, part).copy()
        changed[0, COLUMNS.index("tyre_diameter_rear_left")] = more
        other = replace(field, **{part: changed}).take(np.array([0]))
        rule = rules.take(np.array([0]))
        assert same(judge_what_changed(rule, other), evaluate(rule, other), 0), part


def test_what_is_kept_is_not_judged_again(monkeypatch: pytest.MonkeyPatch) -> None:
    field = every_column(FrontCarrier.FRONT_WHEELS)
    rules = rules_of(field, DecisionRule.SIMPLE_ACCEPTANCE)
    judged: list[int] = []

    def counted(some: Rules, cars: Field, *, ground: Ground | None) -> Findings:
        judged.append(some.count)
        return evaluate(some, cars, ground=ground)

    monkeypatch.setattr(judged_before, "evaluate", counted)
    first, heavier = (np.array([0]), np.array([1 + COLUMNS.index("weight_car")]))
    for some in (first, heavier, first, heavier):
        judge_what_changed(rules.take(some), field.take(some))
    # The weight alone was judged anew, and a kept car not at all.
    assert judged == [rules.count, 1]
