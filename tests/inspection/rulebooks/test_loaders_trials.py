"""Trials on stored cars: the same findings, to the digit, as car by car."""

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from importlib import import_module
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from inspection.actions.race_nights import call_back
from inspection.actions.sheets import start_sheet
from inspection.compute.judging.evaluation import Field, evaluate
from inspection.compute.judging.outcomes import DecisionRule, Outcome
from inspection.compute.judging.rule_arrays import Findings
from inspection.compute.night.entries import Decision
from inspection.compute.quantities.quantity import FrontCarrier
from inspection.compute.quantities.registry import COLUMNS
from inspection.compute.rulebooks.requirements import Answer, Stage
from inspection.compute.rulebooks.text import RuleText
from inspection.compute.rulebooks.trials import Bound, CarFound
from inspection.loaders.block.fields import field_of
from inspection.loaders.block.sealed_values import sealed_values
from inspection.loaders.block.sheets import (
    asked_of,
    load_sheet,
    sheets_to_load,
)
from inspection.loaders.rulebooks.editions import (
    LoadedEdition,
    load_edition,
    rules_as_arrays,
)
from inspection.loaders.rulebooks.judged_cars import evaluate_stored, judge_by
from inspection.loaders.rulebooks.stored_cars import (
    Choice,
    StoredCar,
    StoredCars,
    load_stored_cars,
)
from inspection.loaders.rulebooks.trials import Trial, try_edition
from inspection.loaders.rulebooks.tried_limits import Limits, move_limits, try_limit
from inspection.models import Edition, Sheet
from tests import builders
from tests.browser.race_night import RULES, make_club, now, take
from tests.inspection.compute.cars import make_field
from tests.inspection.sealed_cars import seal, seal_car, seal_cars

pytestmark = pytest.mark.django_db
packed = import_module("inspection.migrations.0004_fill_seal_inputs").packed

FEW = tuple(rule for rule in RULES if rule.number in {"1.1", "2.2", "3.1", "4.2"})
GOOD = {
    "motor_sealed": 1.0,
    "clearance_front": 0.8,
    "tyre_diameter_rear_left": 20.41,
    "tyre_diameter_rear_right": 20.44,
    "weight_car": 98.3,
}
#: Cars by what was found of them; the clearance is a slip of 0.8 mm that goes or not.
FOUND = (
    GOOD,
    GOOD | {"weight_car": 79.1},
    GOOD | {"clearance_front": -0.8},
    GOOD | {"tyre_diameter_rear_left": 18.32, "tyre_diameter_rear_right": 18.20},
    GOOD | {"motor_sealed": 0.0},
    {"motor_sealed": 1.0, "clearance_front": 0.8, "tyre_diameter_rear_right": 20.44},
)


def in_memory(
    found: Sequence[Mapping[str, float]] = FOUND, *, class_id: int = 0
) -> StoredCars:
    """Give stored cars without any sheet: what a trial reads of them."""
    field = make_field([*found], also=("layout", "front_carrier"))
    more = [name for name in COLUMNS if name not in field.columns]
    blank = np.full((field.car_count, len(more)), np.nan)
    names = (*field.columns, *more)
    order = [names.index(name) for name in COLUMNS]

    def whole(part: NDArray[Any], fill: float) -> NDArray[Any]:
        return np.hstack((part, np.full_like(blank, fill)))[:, order]

    value = whole(field.value, np.nan)
    slip = COLUMNS.index("clearance_front")
    bound = np.zeros(value.shape, dtype=np.int8)
    bound[:, slip] = np.nan_to_num(np.sign(value[:, slip]))
    value[:, slip] = np.abs(value[:, slip])
    return StoredCars(
        cars=tuple(
            StoredCar(
                number=str(at),
                name=f"Car {at}",
                class_id=class_id or builders.make_class().pk,
                class_name="Saloon",
                sheet=f"S-{at}",
                decision=Decision.PASSED if at in {0, 3} else Decision.SENT_BACK,
            )
            for at in range(field.car_count)
        ),
        field=Field(
            columns=COLUMNS,
            value=value,
            random=whole(field.random, 0.0),
            systematic=whole(field.systematic, 0.0),
            gauge=whole(field.gauge, -1.0).astype(np.int64),
            bound=bound,
        ),
    )


def published() -> Edition:
    return Edition.objects.published().select_related("rulebook").latest("number")


def draft_of(*rules: RuleText, **said: Any) -> LoadedEdition:
    edition = builders.make_edition(rules, published=False, **said)
    return load_edition(Edition.objects.select_related("rulebook").get(pk=edition.pk))


def changed(
    number: str, rules: tuple[RuleText, ...] = FEW, **said: Any
) -> tuple[RuleText, ...]:
    """Give the rules with one of them changed."""
    return tuple(
        replace(rule, **said) if rule.number == number else rule for rule in rules
    )


def stored(**said: Any) -> StoredCars:
    return load_stored_cars(Choice(rulebook_id=published().rulebook_id, **said))


def trial_of(draft: LoadedEdition, cars: StoredCars | None = None) -> Trial:
    """Try a draft on the cars in memory, beside the few rules."""
    against = draft_of(*FEW)
    return try_edition(draft, against, cars or in_memory(), Choice(rulebook_id=1))


def assert_same(one: Findings, row: int, other: Findings, place: int) -> None:
    for name in (field.name for field in fields(Findings)):
        left, right = getattr(one, name)[row, place], getattr(other, name)[0, place]
        assert np.array_equal(left, right, equal_nan=left.dtype.kind == "f"), name


def test_findings_of_all_are_those_of_each_to_the_digit() -> None:
    """
    Six cars of every kind and one on its guide, sealed as on a night.

    Each is stored as its seal says it, and as the migration packs a seal that was
    made before; the draft finds of all what it finds of each
    alone; the edition in force finds what each sheet's own page says.
    """
    club = make_club()
    edition = load_edition(published())
    seal_cars(club)
    seal_car(club, {}, carrier=FrontCarrier.GUIDE)
    draft = draft_of(*changed("2.3", RULES, lower=850_000))
    cars = stored()
    together = evaluate_stored(draft, draft.rules, cars, Stage.BEFORE)
    judged, _ = judge_by([edition], cars, Stage.BEFORE)
    assert len(cars.cars) == 7
    for row, car in enumerate(cars.cars):
        sheet = sheets_to_load().get(number=car.sheet)
        field = field_of(sealed_values(sheet.seal.content))
        for name in ("value", "random", "systematic", "gauge", "bound"):
            left, right = getattr(cars.field, name)[row], getattr(field, name)[0]
            assert np.array_equal(left, right, equal_nan=name == "value"), name
        assert packed(json.loads(sheet.seal.content)["values"]) == (
            sheet.seal.inputs.columns,
            bytes(sheet.seal.inputs.numbers),
        )
        asked = asked_of(draft, sheet)
        assert asked == draft.rules
        arrays = rules_as_arrays(
            draft,
            asked,
            stage=Stage.BEFORE,
            columns=field.columns,
            applies=np.ones((1, len(asked)), dtype=np.bool_),
        )
        alone = evaluate(arrays, field)
        for place in range(len(asked)):
            assert_same(together, row, alone, place)
        assert [found.outcome for found in load_sheet(sheet).findings] == [
            tuple(Outcome)[code] for code in judged.outcome[row]
        ]
        admitted = tuple(CarFound)[judged.found[row]] is CarFound.ADMITTED
        assert admitted == (car.decision is Decision.PASSED)


def test_last_sealed_sheet_counts_and_only_of_the_stage_and_nights_chosen() -> None:
    club = make_club([rule for rule in RULES if rule.number == "4.2"])
    first = seal_car(club, {"weight_car": "79.1"})
    call_back(first.entry_id, act=now(club.anna))
    again = start_sheet(
        first.entry_id, block=club.block, changed=(), act=now(club.anna)
    )
    take(club, again, {"weight_car": "81.5"})
    assert stored().cars[0].sheet == first.number
    seal(club, Sheet.objects.get(pk=again.pk))
    (car,) = stored().cars
    assert car.sheet == again.number
    night = club.night.date
    assert stored(since=night).cars
    assert not stored(since=night + dt.timedelta(days=1)).cars
    assert not stored(stage=Stage.AFTER).cars
    assert stored(class_id=car.class_id).cars
    assert not stored(class_id=builders.make_class("Open").pk).cars


def test_stricter_limit_refuses_who_is_now_outside_by_how_much() -> None:
    tried = trial_of(draft_of(*changed("4.2", lower=99_000_000)))
    weight = tried.rules[-1]
    # Four weigh 98.3 g, one 79.1 g, and one was not weighed.
    assert (weight.admitted, weight.refused, weight.not_measured) == (0, 5, 1)
    assert (weight.newly_refused, weight.newly_admitted) == (4, 0)
    assert weight.least_margin == pytest.approx(79.1 - 99)
    assert weight.was is not None
    told = {(one.before, one.after): one for one in tried.changes}
    refused = told[CarFound.ADMITTED, CarFound.REFUSED]
    assert [one.car.name for one in refused.cars] == ["Car 0", "Car 3"]
    (reason,) = refused.cars[0].reasons
    assert (reason.rule.number, reason.short_by) == ("4.2", "0.7 g")
    assert refused.count == tried.counts[CarFound.ADMITTED, CarFound.REFUSED] == 2
    assert (tried.before(CarFound.ADMITTED), tried.after(CarFound.ADMITTED)) == (2, 0)
    assert sum(tried.counts.values()) == tried.cars == len(FOUND)


def test_looser_limit_admits_again_and_names_what_had_refused() -> None:
    tried = trial_of(draft_of(*changed("4.2", lower=79_000_000)))
    (back,) = tried.changes
    assert (back.before, back.after) == (CarFound.REFUSED, CarFound.ADMITTED)
    (car,) = back.cars
    (reason,) = car.reasons
    assert (reason.rule.number, reason.short_by) == ("4.2", "0.9 g")
    assert tried.rules[-1].newly_admitted == 1


def test_new_rule_on_what_nobody_read_is_not_told_as_a_refusal() -> None:
    tried = trial_of(draft_of(*FEW, builders.rule("5.1", "weight_body", lower=17)))
    rule = tried.rules[-1]
    assert rule.was is None
    assert (rule.newly_refused, rule.not_measured) == (0, len(FOUND))
    assert rule.least_margin is None
    assert tried.after(CarFound.ADMITTED) == 0
    (open_,) = tried.changes
    assert (open_.after, open_.count) == (CarFound.NOT_MEASURED, 2)
    (reason,) = open_.cars[0].reasons
    assert reason.outcome is Outcome.NOT_MEASURED
    assert reason.short_by == ""


def test_refusal_is_told_without_what_was_not_measured() -> None:
    body = builders.rule("5.1", "weight_body", lower=17)
    tried = trial_of(draft_of(*changed("4.2", lower=99_000_000), body))
    refused = next(one for one in tried.changes if one.after is CarFound.REFUSED)
    assert [r.rule.number for r in refused.cars[0].reasons] == ["4.2"]


def test_looked_at_rule_has_no_distance() -> None:
    tried = trial_of(draft_of(*changed("1.1", required=Answer.NO)))
    refused = next(one for one in tried.changes if one.after is CarFound.REFUSED)
    (reason,) = refused.cars[0].reasons
    assert (reason.rule.number, reason.short_by) == ("1.1", "")


def test_rule_left_out_is_named() -> None:
    tried = trial_of(draft_of(*FEW[:-1]))
    assert [rule.number for rule in tried.dropped] == ["4.2"]


def test_without_an_edition_in_force_the_seals_themselves_are_held_against() -> None:
    tried = try_edition(draft_of(*FEW), None, in_memory(), Choice(rulebook_id=1))
    # The car that was sent back for want of a reading is one that was sent back.
    assert tried.counts[CarFound.REFUSED, CarFound.NOT_MEASURED] == 1
    assert tried.counts[CarFound.ADMITTED, CarFound.ADMITTED] == 2
    assert all(one.was is None for one in tried.rules)
    assert not tried.dropped


def test_another_confidence_is_judged_apart() -> None:
    cars, edition = in_memory(), draft_of(*FEW)
    strict = draft_of(*FEW, decision_rule=DecisionRule.GUARDED_ACCEPTANCE)
    wide = replace(strict, confidence=0.9999)
    first, second = judge_by([wide, edition], cars, Stage.BEFORE)
    assert second is not None
    for pair, alone in ((first, wide), (second, edition)):
        expected, none = judge_by([alone], cars, Stage.BEFORE)
        assert none is None
        assert np.array_equal(pair.outcome, expected.outcome)
        assert np.array_equal(pair.admitted, expected.admitted)


def test_decision_rules_of_both_editions_hold_in_one_evaluation() -> None:
    """81.0 g by a doubt of 0.014: inside 80.99 by less than its guard band."""
    cars = in_memory([GOOD | {"weight_car": 81.0}])
    at_limit = changed("4.2", lower=80_990_000)
    simple = draft_of(*at_limit)
    strict = draft_of(*at_limit, decision_rule=DecisionRule.GUARDED_ACCEPTANCE)
    after, before = judge_by([strict, simple], cars, Stage.BEFORE)
    assert before is not None
    assert np.array_equal(after.outcome, before.outcome)
    assert after.outcome[0, -1] == Outcome.CONDITIONAL_PASS.code
    assert (before.admitted[0, -1], after.admitted[0, -1]) == (True, False)


def test_rule_of_a_class_or_a_word_is_asked_of_those_cars_alone() -> None:
    on_guide = float(tuple(FrontCarrier).index(FrontCarrier.GUIDE))
    cars = in_memory(
        [
            GOOD | {"front_carrier": 0.0, "layout": 0.0},
            GOOD | {"front_carrier": on_guide, "layout": 0.0},
            GOOD,
        ]
    )
    builders.make_class("Open")
    weight = builders.rule("1", "weight_car", lower=80)
    guide: dict[str, Any] = {
        "condition_key": "front_carrier",
        "condition_word": "guide",
    }
    draft = draft_of(
        replace(weight, classes=("Open",)),
        replace(weight, number="2", classes=("Saloon",)),
        replace(weight, number="3", **guide),
        replace(weight, number="4", condition_key="layout", condition_word="in-line"),
    )
    found = evaluate_stored(draft, draft.rules, cars, Stage.BEFORE)
    about = found.outcome != Outcome.NOT_APPLICABLE.code
    # Of the last car nothing is declared: it is asked.
    assert about.T.tolist() == [
        [False, False, False],
        [True, True, True],
        [False, True, True],
        [True, True, True],
    ]


def test_moved_limit_finds_what_a_rule_with_that_limit_finds() -> None:
    draft = draft_of(*FEW)
    tried = try_limit(
        draft,
        draft.rules[2],
        in_memory(),
        stage=Stage.BEFORE,
        limits=Limits(lower=18.5, upper=None),
        share=0.8,
    )
    # The worn car's smaller tyre is 18.20; of one car a tyre was not read.
    drafted, moved = tried.count_drafted, tried.count_moved
    assert (drafted.admitted, drafted.refused, drafted.not_measured) == (5, 0, 1)
    assert (moved.admitted, moved.refused, moved.not_measured) == (4, 1, 1)
    (car,) = tried.moved_cars
    assert not car.is_admitted
    assert car.value == pytest.approx(18.20)
    assert car.margin == pytest.approx(-0.30)
    assert tried.outside == 1
    # Four of five have 20.41 and 20.44: the smaller decides.
    limit = tried.admitting[Bound.LOWER]
    assert (limit.limit, limit.admitted, limit.measured) == (20.41, 4, 5)
    assert sum(tried.bins.counts) == 5
    # Both parts of the doubt are 0.01: 1.645 times their hypotenuse.
    assert tried.guard_band == pytest.approx(0.02326, abs=1e-5)


def test_limit_nobody_was_measured_by_has_no_guard_band() -> None:
    draft = draft_of(builders.rule("1", "weight_body", lower=17))
    tried = try_limit(
        draft,
        draft.rules[0],
        in_memory(),
        stage=Stage.BEFORE,
        limits=None,
        share=0.95,
    )
    assert tried.guard_band is None
    assert tried.admitting[Bound.LOWER].limit is None


def test_rule_that_is_looked_at_has_no_limit_to_move() -> None:
    draft = draft_of(*FEW)
    tried = try_limit(
        draft,
        draft.rules[0],
        in_memory(),
        stage=Stage.BEFORE,
        limits=None,
        share=0.95,
    )
    assert not tried.admitting
    assert (tried.count_drafted.admitted, tried.count_drafted.refused) == (5, 1)


@pytest.mark.parametrize(
    ("asked", "stage", "expected"),
    [
        (Stage.BOTH, Stage.BEFORE, (5.0, None, 2.0, None)),
        (Stage.BOTH, Stage.AFTER, (1.0, None, 5.0, None)),
        (Stage.AFTER, Stage.AFTER, (5.0, None, None, None)),
    ],
)
def test_limit_moves_at_its_stage(
    asked: Stage, stage: Stage, expected: tuple[float | None, ...]
) -> None:
    draft = draft_of(
        builders.rule("1", "weight_car", lower=1, lower_after=2, stage=asked)
    )
    moved = move_limits(draft.rules[0], Limits(lower=5.0, upper=None), stage)
    limits = (moved.lower, moved.upper, moved.lower_after, moved.upper_after)
    assert limits == expected


def test_no_car_leaves_every_count_at_nothing() -> None:
    make_club(FEW)
    cars = stored()
    tried = trial_of(draft_of(*FEW), cars)
    assert tried.cars == 0
    assert not tried.changes
