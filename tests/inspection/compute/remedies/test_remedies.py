"""Remedies against trying every combination by plain figures, one at a time."""

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray

from inspection.compute.judging.evaluation import Field, Rules, evaluate, margins
from inspection.compute.judging.outcomes import DecisionRule, Outcome
from inspection.compute.remedies.changes import MOST_REMEDIES, remedies, work_remedies
from inspection.compute.what_if import Gears, Motors, Pairs, Stock
from inspection.compute.what_if.changed_cars import Masses
from inspection.compute.what_if.legality import (
    NotOneCarError,
    TyresNotMeasuredError,
    present,
)
from inventory.compute.gears.meshes import mesh, spur
from tests.inspection.compute.cars import make_field, make_rules
from tests.inspection.compute.fit.fit_cars import (
    FLAT,
    RULES,
    column,
    doubt,
    gears,
    one_car,
    sidewinder,
)

Car = dict[str, float]
Limits = dict[str, tuple[float | None, float | None]]
Some = tuple[int | None, ...]

LIMITS: Limits = {
    "clearance_rear": (1.0, None),
    "clearance_gear": (0.8, None),
    "clearance_motor": (0.8, None),
    "tyre_mismatch_rear": (-0.1, 0.1),
    "gear_ratio": (2.5, 4.0),
    "rollout": (12.0, 26.0),
    "width_rear": (None, 77.5),
    "weight_car": (180.0, None),
    "motor_resistance": (2.0, None),
    "motor_speed": (None, 25_000.0),
    "tyre_hardness": (28.0, None),
    "tilt": (-0.2, 0.2),
}


def random_car(rng: np.random.Generator) -> Car:
    tyre = rng.uniform(18.6, 20.5)
    return FLAT | {
        "tyre_diameter_rear_left": round(tyre, 2),
        "tyre_diameter_rear_right": round(tyre + rng.normal(0, 0.1), 2),
        "gear_diameter": round(rng.uniform(14.0, 19.0), 2),
        "teeth_gear": float(rng.integers(22, 36)),
        "weight_car": round(rng.uniform(179.0, 186.0), 1),
        "motor_lift_rear": round(rng.uniform(-0.6, 0.4), 2),
        "motor_resistance": round(rng.uniform(1.8, 3.0), 3),
        "motor_speed": round(rng.uniform(24_000, 25_100), -1),
        "tyre_hardness": round(rng.uniform(27.0, 36.0)),
    }


def random_stock(rng: np.random.Generator) -> Stock:
    size = np.round(rng.uniform(18.6, 21.0, 5), 2)
    return Stock(
        pairs=Pairs(
            left_diameter_mm=size,
            right_diameter_mm=np.round(size + rng.normal(0, 0.06, 5), 2),
            width_mm=np.round(rng.uniform(15.0, 17.6, 5), 2),
            bore_mm=np.round(rng.uniform(2.36, 2.45, 5), 2),
            hardness=np.round(rng.uniform(24.0, 36.0, 5)),
            doubts={
                "left_diameter_mm": doubt(0.02, 0.01, 3, rows=5),
                "right_diameter_mm": doubt(0.01, 0.02, 4, rows=5),
                "width_mm": doubt(0.05, 0.01, 3, rows=5),
                "hardness": doubt(1.0, 1.0, 5, rows=5),
            },
            mass_g=np.round(rng.uniform(8.0, 12.0, 5), 1),
        ),
        gears=gears(
            [
                {
                    "teeth": float(rng.integers(22, 36)),
                    "outside_diameter_mm": round(rng.uniform(13.0, 18.5), 2),
                    "module_mm": float(rng.choice([0.5, 0.4])),
                    "bore_mm": round(rng.uniform(2.36, 2.45), 2),
                    "hub_width_mm": round(rng.uniform(5.0, 8.5), 2),
                }
                for _ in range(5)
            ]
        ),
        motors=Motors(
            can_height_mm=np.round(rng.uniform(15.0, 19.0, 3), 2),
            can_width_mm=np.round(rng.uniform(18.0, 23.0, 3), 2),
            can_length_mm=np.round(rng.uniform(26.0, 31.0, 3), 2),
            shaft_diameter_mm=rng.choice([1.5, 2.0], 3),
            shaft_length_mm=rng.choice([3.0, 6.0], 3),
            resistance_ohm=np.round(rng.uniform(1.8, 3.0, 3), 3),
            speed_rpm=np.round(rng.uniform(24_000, 25_400, 3), -1),
            doubts={
                "can_height_mm": doubt(0.02, 0.01, 3, rows=3),
                "resistance_ohm": doubt(0.005, 0.01, 6, rows=3),
                "speed_rpm": doubt(100.0, 100.0, 7, rows=3),
            },
        ),
    )


class Trial:
    """One car, its room, one stock; each combination looked at by itself."""

    def __init__(self, car: Car, stock: Stock, *, weighed: bool) -> None:
        self.car = car
        self.stock = stock
        self.weighed = weighed

    def combinations(self) -> Iterator[Some]:
        places: list[list[int | None]] = [
            [None, *range(table.row_count)]
            for table in (self.stock.pairs, self.stock.gears, self.stock.motors)
        ]
        for some in product(*places):
            if 1 <= changed(some) <= 2:
                yield some

    def after(self, pair: int | None, gear: int | None, motor: int | None) -> Car:
        car, stock = dict(self.car), self.stock
        if pair is not None:
            pairs = stock.pairs
            car["tyre_diameter_rear_left"] = pairs.left_diameter_mm[pair]
            car["tyre_diameter_rear_right"] = pairs.right_diameter_mm[pair]
            # 60 from middle to middle stays.
            car["tyre_width_rear"] = pairs.width_mm[pair]
            car["width_rear"] = 60.0 + pairs.width_mm[pair]
            car["tyre_hardness"] = pairs.hardness[pair]
            if self.weighed:
                car["weight_car"] += pairs.mass_g[pair] - 10.0
        if gear is not None:
            car["teeth_gear"] = stock.gears.teeth[gear]
            car["gear_diameter"] = stock.gears.outside_diameter_mm[gear]
        if motor is not None:
            motors = stock.motors
            # A sidewinder's can: its rear edge and middle stay.
            wider = motors.can_width_mm[motor] - car["can_width"]
            longer = motors.can_length_mm[motor] - car["can_length"]
            car["can_front_x"] += wider
            car["can_half_width"] += longer / 2
            car["can_height"] = motors.can_height_mm[motor]
            car["can_width"] = motors.can_width_mm[motor]
            car["can_length"] = motors.can_length_mm[motor]
            car["motor_resistance"] = motors.resistance_ohm[motor]
            car["motor_speed"] = motors.speed_rpm[motor]
        return car

    def fits(self, pair: int | None, gear: int | None, motor: int | None) -> bool:
        return (
            (pair is None or self.pair_fits(pair))
            and (gear is None or self.gear_fits(gear))
            and (motor is None or self.motor_fits(motor))
        )

    def pair_fits(self, pair: int) -> bool:
        pairs = self.stock.pairs
        play = round(pairs.bore_mm[pair] - 2.38, 6)
        width = pairs.width_mm[pair] + guard(pairs, "width_mm", pair)
        return bool(0.0 <= play <= 0.05 and width <= 17.0)

    def gear_fits(self, gear: int) -> bool:
        table = self.stock.gears
        play = round(table.bore_mm[gear] - 2.38, 6)
        across = table.outside_diameter_mm[gear]
        across += guard(table, "outside_diameter_mm", gear)
        return bool(
            0.0 <= play <= 0.05
            and table.module_mm[gear] == pytest.approx(0.5)
            and 9.2 - across / 2 >= 0.3 - 1e-6
            and table.hub_width_mm[gear] + guard(table, "hub_width_mm", gear) <= 8.0
            and self.meshes(int(table.teeth[gear]))
        )

    def meshes(self, teeth: int) -> bool:
        places = np.linspace(8.6, 9.3, 701)
        run = mesh(
            spur(9, module_mm=0.5),
            spur(teeth, module_mm=0.5),
            centre_distance_mm=places,
        )
        good = (run.backlash_mm >= 0.02 - 1e-6) & (run.backlash_mm <= 0.125 + 1e-6)
        return bool((good & (run.enlarged_contact_ratio >= 1.0)).any())

    def motor_fits(self, motor: int) -> bool:
        motors = self.stock.motors
        height, width, length = (
            getattr(motors, name)[motor] + guard(motors, name, motor)
            for name in ("can_height_mm", "can_width_mm", "can_length_mm")
        )
        return bool(
            height <= 18.0
            and width <= 22.0
            and length <= 30.0
            and -0.10 <= round(1.5 - motors.shaft_diameter_mm[motor], 6) <= 0.0
            and motors.shaft_length_mm[motor] >= 4.0
        )


def guard(table: Pairs | Gears | Motors, name: str, row: int) -> float:
    """Too close to call is no remedy: 1.645 u of a size, by hand."""
    known = table.doubts.get(name)
    if known is None:
        return 0.0
    return 1.645 * float(np.hypot(known.random[row], known.systematic[row]))


def changed(some: Some) -> int:
    return sum(place is not None for place in some)


def rollout_mm(car: Car) -> float:
    mean = (car["tyre_diameter_rear_left"] + car["tyre_diameter_rear_right"]) / 2
    return math.pi * mean * car["teeth_pinion"] / car["teeth_gear"]


def legal_by_trying_all(
    trial: Trial, decision_rule: DecisionRule, *, fit: bool
) -> list[tuple[int, float, Some]]:
    """Count of changes, change of rollout, parts: of every legal combination."""
    every = list(trial.combinations())
    cars = make_field([trial.after(*some) for some in every])
    cars = with_part_uncertainty(cars, every)
    findings = evaluate(make_rules(cars, LIMITS, decision_rule=decision_rule), cars)
    good = np.asarray((findings.admitted & (findings.margin >= 0)).all(axis=1))
    now = rollout_mm(trial.car)
    found = [
        (changed(some), round(abs(rollout_mm(trial.after(*some)) - now), 6), some)
        for some, legal in zip(every, good.tolist(), strict=True)
        if legal and (not fit or trial.fits(*some))
    ]
    return sorted(found, key=lambda one: one[:2])


def with_part_uncertainty(cars: Field, every: list[Some]) -> Field:
    """Give what a part brought the part's own uncertainty and gauge."""
    random, systematic = cars.random.copy(), cars.systematic.copy()
    gauge = cars.gauge.copy()
    diameters = "tyre_diameter_rear_left", "tyre_diameter_rear_right"
    brought: tuple[dict[str, tuple[float, float, int]], ...] = (
        {
            diameters[0]: (0.02, 0.01, 3),
            diameters[1]: (0.01, 0.02, 4),
            "tyre_width_rear": (0.05, 0.01, 3),
            "tyre_hardness": (1.0, 1.0, 5),
        },
        {"gear_diameter": (0.0, 0.0, -1), "gear_design_offset": (0.0, 0.0, -1)},
        {
            "can_height": (0.02, 0.01, 3),
            "can_width": (0.0, 0.0, -1),
            "can_length": (0.0, 0.0, -1),
            "motor_resistance": (0.005, 0.01, 6),
            "motor_speed": (100.0, 100.0, 7),
        },
    )
    for row, some in enumerate(every):
        for place, known in zip(some, brought, strict=True):
            for name, doubts in known.items() if place is not None else ():
                at = cars.columns.index(name)
                random[row, at], systematic[row, at], gauge[row, at] = doubts
    return replace(cars, random=random, systematic=systematic, gauge=gauge)


@pytest.mark.parametrize("decision_rule", list(DecisionRule))
def test_remedies_are_those_found_by_trying_every_combination(
    decision_rule: DecisionRule,
) -> None:
    """Compare on a hundred cars in all, a third for each decision rule."""
    rng = np.random.default_rng(tuple(DecisionRule).index(decision_rule))
    helped = 0
    for number in range(34):
        car, stock, fit = random_car(rng), random_stock(rng), number % 4 != 0
        rulebook, field = one_car(car, LIMITS, decision_rule=decision_rule)
        room = sidewinder(car, LIMITS)
        envelope = replace(room, masses=Masses(pair_g=10.0)) if fit else None
        found = remedies(rulebook, field, stock, envelope=envelope)
        trial = Trial(car, stock, weighed=fit)
        wanted = legal_by_trying_all(trial, decision_rule, fit=fit)
        now = present(rulebook, field)
        if now.kept.all():
            wanted = []
        helped += bool(wanted)
        assert len(found) == min(len(wanted), MOST_REMEDIES)
        ranks = [
            (one.change_count, round(abs(one.rollout_mm - rollout_mm(car)), 6))
            for one in found
        ]
        assert ranks == [rank[:2] for rank in wanted[:MOST_REMEDIES]]
        assert {(one.pair, one.gear, one.motor) for one in found} <= {
            some for _, _, some in wanted
        }
        assert all(one.fit_checked == fit for one in found)
    assert helped > 5


@pytest.mark.parametrize("speed", [24_950.0, 24_500.0])
def test_a_fast_motor_is_judged_by_its_own_speeds_doubt(speed: float) -> None:
    """JCGM 106, 8.3.2: 1.645 u inside; of 141 rpm that is 233."""
    rulebook, car = one_car(
        {"motor_speed": 25_300.0},
        {"motor_speed": (None, 25_000.0)},
        decision_rule=DecisionRule.GUARDED_ACCEPTANCE,
    )
    motors = Motors(
        can_height_mm=column(16.0),
        speed_rpm=column(speed),
        doubts={
            "can_height_mm": doubt(0.01, 0.01, 3),
            "speed_rpm": doubt(100.0, 100.0, 7),
        },
    )
    found = remedies(rulebook, car, Stock(motors=motors))
    assert len(found) == (speed < 25_000 - 233)


def failing(**values: float) -> tuple[Rules, Field]:
    """One car whose gear hangs too low: 0.50 where 0.80 is asked."""
    return one_car({"gear_diameter": 19.0} | values)


SMALLER = gears([{"teeth": 27.0}, {"teeth": 28.0}, {"teeth": 36.0}])


def test_a_remedy_says_what_the_rules_would_find() -> None:
    rulebook, car = failing()
    found = remedies(rulebook, car, Stock(gears=SMALLER))
    assert [one.gear for one in found] == [0, 1]
    best = found[0]
    assert (best.pair, best.motor, best.change_count) == (None, None, 1)
    assert best.rollout_change_percent == pytest.approx(0.0)
    assert best.rollout_mm == pytest.approx(math.pi * 20 / 3)
    # Below the gear, ratio 3.000, rollout.
    assert best.outcome == (Outcome.PASS,) * 3
    assert best.margin == pytest.approx((1.95, 0.5, math.pi * 20 / 3 - 15), abs=1e-5)
    assert not best.fit_checked


def test_a_legal_car_needs_no_remedy() -> None:
    assert remedies(*one_car(), Stock(gears=SMALLER)) == []


def test_an_empty_stock_has_none() -> None:
    assert remedies(*failing(), Stock()) == []
    assert (
        remedies(*failing(), Stock(), envelope=sidewinder({"gear_diameter": 19.0}))
        == []
    )


def test_a_stock_with_nothing_that_helps_has_none() -> None:
    larger = gears([{"teeth": 27.0, "outside_diameter_mm": 19.5}])
    assert remedies(*failing(), Stock(gears=larger)) == []


def test_two_changes_help_where_one_does_not() -> None:
    # 17.5 below, 20.5 tyres would do for 18.8; neither alone.
    rulebook, car = one_car(
        {"gear_diameter": 19.0},
        {"clearance_gear": (0.8, None), "gear_ratio": (3.1, None)},
    )
    stock = Stock(
        gears=gears([{"teeth": 30.0, "outside_diameter_mm": 18.6}]),
        pairs=Pairs(left_diameter_mm=column(20.4), right_diameter_mm=column(20.4)),
    )
    (only,) = remedies(rulebook, car, stock)
    assert (only.pair, only.gear, only.motor, only.change_count) == (0, 0, None, 2)


def test_a_rule_not_read_keeps_a_car_from_being_legal_unless_left_out() -> None:
    rulebook, car = one_car(
        {"gear_diameter": 19.0, "weight_body": math.nan},
        {"clearance_gear": (0.8, None), "weight_body": (10.0, None)},
    )
    assert remedies(rulebook, car, Stock(gears=SMALLER)) == []
    found = remedies(rulebook, car, Stock(gears=SMALLER), leave_unread=True)
    assert [one.gear for one in found] == [0, 1]
    assert found[0].outcome[1] is Outcome.NOT_MEASURED


def test_no_more_than_fifty_are_found() -> None:
    many = gears(
        [{"teeth": 27.0, "outside_diameter_mm": 14.0 + k / 100} for k in range(90)]
    )
    found = remedies(*failing(), Stock(gears=many))
    assert len(found) == MOST_REMEDIES
    assert [one.gear for one in found] == list(range(MOST_REMEDIES))


def test_a_rollout_not_known_ranks_as_given() -> None:
    rulebook, car = one_car(
        {"gear_diameter": 19.0, "teeth_pinion": math.nan},
        {"clearance_gear": (0.8, None)},
    )
    found = remedies(rulebook, car, Stock(gears=SMALLER))
    assert [one.gear for one in found] == [0, 1]
    assert math.isnan(found[0].rollout_mm)


def test_a_gear_whose_clearance_is_not_known_does_not_fit() -> None:
    values = {"weight_car": 179.0, "gear_position_y": math.nan, "tyre_width_rear": 16.0}
    rules: Limits = {"weight_car": (180.0, None)}
    rulebook, car = one_car(values, rules)
    heavy = gears([{"teeth": 27.0}], mass_g=column(5.0))
    envelope = replace(sidewinder(values, rules), masses=Masses(gear_g=2.0))
    assert remedies(rulebook, car, Stock(gears=heavy), envelope=envelope) == []
    known = values | {"gear_position_y": -10.0}
    rulebook, car = one_car(known, rules)
    envelope = replace(sidewinder(known, rules), masses=Masses(gear_g=2.0))
    (only,) = remedies(rulebook, car, Stock(gears=heavy), envelope=envelope)
    assert only.margin[0] == pytest.approx(2.0)


def test_a_remedy_may_not_touch_the_track_whatever_the_rules_say() -> None:
    values, rules = {"weight_car": 179.0}, {"weight_car": (180.0, None)}
    heavy = gears([{"teeth": 30.0, "outside_diameter_mm": 17.8}], mass_g=column(5.0))
    low = dict.fromkeys(("tyre_diameter_rear_left", "tyre_diameter_rear_right"), 17.7)
    for tyres, count in (({}, 1), (low, 0)):
        rulebook, car = one_car(values | tyres, rules)
        envelope = replace(
            sidewinder(values | tyres, rules, {"slot_high_mm": 10.0}),
            masses=Masses(gear_g=2.0),
        )
        found = remedies(rulebook, car, Stock(gears=heavy), envelope=envelope)
        assert len(found) == count


def test_a_pinion_larger_than_the_gear_is_no_remedy() -> None:
    rules: Limits = {"clearance_gear": (0.8, None)}
    rulebook, car = one_car({"gear_diameter": 19.0}, rules)
    small = gears([{"teeth": 8.0}])
    envelope = sidewinder({"gear_diameter": 19.0}, rules, {"slot_low_mm": 4.0})
    assert remedies(rulebook, car, Stock(gears=small), envelope=envelope) == []
    assert len(remedies(rulebook, car, Stock(gears=small))) == 1


def test_bad_questions_are_refused() -> None:
    with pytest.raises(TyresNotMeasuredError):
        remedies(*one_car({"tyre_diameter_rear_left": math.nan}), Stock())
    two = make_field([FLAT, FLAT])
    with pytest.raises(NotOneCarError):
        remedies(make_rules(two, {"weight_car": (180.0, None)}), two, Stock())


def alike(*sizes: float) -> Pairs:
    return Pairs(left_diameter_mm=column(*sizes), right_diameter_mm=column(*sizes))


def test_clearances_that_were_taken_move_with_the_parts() -> None:
    # Derived 0.50 under the gear of 19.0 and 1.50 at the rear edge; taken 0.45, 1.42.
    rules: Limits = {
        "clearance_gear": (0.8, None),
        "ride_height_rear": (0.0, None),
        "clearance_magnet": (0.0, None),
        "clearance_motor": (0.0, None),
    }
    values = {
        "gear_diameter": 19.0,
        "clearance_gear": 0.45,
        "ride_height_rear": 1.42,
        "clearance_magnet": 1.1,
        "clearance_motor": 1.65,
    }
    stock = Stock(
        gears=gears([{"teeth": 27.0, "outside_diameter_mm": 18.2}]),
        pairs=alike(20.8, 19.6),
        motors=Motors(
            # The second's width and length were not measured.
            can_height_mm=column(17.0, 17.0),
            can_width_mm=column(20.0, math.nan),
            can_length_mm=column(28.0, math.nan),
        ),
    )
    listed = remedies(*one_car(values, rules), stock)
    found = {(one.pair, one.gear, one.motor): one for one in listed}
    assert set(found) == {
        (None, 0, None), (0, None, None), (0, 0, None), (0, None, 0), (None, 0, 0),
    }  # fmt: skip
    # A gear 0.8 smaller gives 0.4; tyres 0.8 larger 0.4 at the axle, and to the magnet,
    # whose place nothing says, nothing.
    gear, tyres = found[None, 0, None], found[0, None, None]
    assert gear.margin == pytest.approx((0.05, 1.42, 1.1, 1.65), abs=1e-4)
    assert tyres.margin[:3] == pytest.approx((0.05, 1.82, 1.1), abs=1e-4)
    # The can's front edge is 40 ahead of the axle: it rises by 0.4 (1 - 40 / 95).
    assert tyres.margin[3] == pytest.approx(1.65 + 0.4 * (1 - 40 / 95), abs=1e-4)
    assert found[None, 0, 0].margin[3] == pytest.approx(1.65)


def test_smaller_tyres_lower_what_nothing_says_the_place_of() -> None:
    rulebook, car = one_car(
        {"clearance_magnet": 1.1},
        {"clearance_magnet": (0.95, None), "tyre_diameter_rear": (None, 19.9)},
    )
    (only,) = remedies(rulebook, car, Stock(pairs=alike(19.8, 19.6)))
    # Down by half of 0.2; the other, by half of 0.4, too low.
    assert only.pair == 0
    assert only.margin[0] == pytest.approx(0.05)


def test_a_go_gauge_that_did_not_go_is_cured_by_what_is_derived() -> None:
    rulebook, car = one_car(
        {"gear_diameter": 19.0, "clearance_gear": 0.8}, {"clearance_gear": (0.8, None)}
    )
    bound = np.zeros(car.value.shape, dtype=np.int8)
    bound[0, car.columns.index("clearance_gear")] = -1
    found = remedies(rulebook, replace(car, bound=bound), Stock(gears=SMALLER))
    assert [one.gear for one in found] == [0, 1]
    assert found[0].margin[0] == pytest.approx(1.95)


def test_a_plate_that_goes_goes_on_larger_tyres_and_not_surely_on_smaller() -> None:
    rulebook, car = one_car(
        {"clearance_body": 1.5, "tyre_diameter_rear_left": 20.2},
        {"clearance_body": (1.5, None), "tyre_mismatch_rear": (-0.1, 0.1)},
    )
    bound = np.zeros(car.value.shape, dtype=np.int8)
    bound[0, car.columns.index("clearance_body")] = 1
    stock = Stock(pairs=alike(20.3, 19.9))
    (only,) = remedies(rulebook, replace(car, bound=bound), stock)
    assert only.pair == 0
    assert only.outcome == (Outcome.PASS, Outcome.PASS)


def test_a_slip_that_goes_goes_under_a_smaller_gear_where_nothing_is_derived() -> None:
    values = {"clearance_gear": 0.8, "wheelbase_left": math.nan, "teeth_gear": 40.0}
    rulebook, car = one_car(
        values | {"tyre_mismatch_rear": math.nan, "tyre_diameter_rear_left": 20.2},
        RULES | {"tyre_mismatch_rear": (-0.1, 0.1)},
    )
    bound = np.zeros(car.value.shape, dtype=np.int8)
    bound[0, car.columns.index("clearance_gear")] = 1
    stock = Stock(
        pairs=alike(20.3),
        gears=gears([{"teeth": 27.0, "outside_diameter_mm": d} for d in (14.0, 15.0)]),
    )
    (only,) = remedies(rulebook, replace(car, bound=bound), stock)
    # The gear on it is 14.5.
    assert (only.pair, only.gear) == (0, 0)


def stopped_slip(limit: float, **values: float) -> tuple[Rules, Field]:
    """Give a car under which the slip of the rear limit does not slide."""
    rulebook, car = one_car(
        {"clearance_rear": limit, **values}, {"clearance_rear": (limit, None)}
    )
    bound = np.zeros(car.value.shape, dtype=np.int8)
    bound[0, car.columns.index("clearance_rear")] = -1
    return rulebook, replace(car, bound=bound)


def test_a_slip_that_stopped_counts_before_a_sum_that_says_otherwise() -> None:
    """What no sum explains, no sum cures: grit, a bent pan, a wrong stored height."""
    rulebook, car = stopped_slip(0.4)
    sums = replace(car, bound=None)
    derived = margins(rulebook, replace(sums, value=without(sums, "clearance_rear")))
    assert derived[0, 0] > 0
    larger = alike(*(20.0 + step / 10 for step in range(-9, 10)))
    assert remedies(rulebook, car, Stock(pairs=larger, gears=SMALLER)) == []
    assert work_remedies(rulebook, car) == ()


def test_a_slip_that_stopped_where_the_sum_says_so_too_is_cured_by_the_sum() -> None:
    rulebook, car = stopped_slip(3.0)
    larger = alike(*(20.0 + step / 5 for step in range(20)))
    found = remedies(rulebook, car, Stock(pairs=larger))
    assert found
    assert all(one.margin[0] >= 0 for one in found)


def without(car: Field, column: str) -> NDArray[np.float64]:
    value = car.value.copy()
    value[0, car.columns.index(column)] = np.nan
    return value
