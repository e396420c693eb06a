"""
What a quantity reads, against what moves it.

Each column of varied cars is changed in turn, and every quantity is worked out
again: one that comes out otherwise rests on that column, and is to say so.
"""

from collections.abc import Mapping

import numpy as np
import pytest

from inspection.compute.asking import Area, columns_of_area, readings_to_take
from inspection.compute.quantities import (
    COLUMNS,
    QUANTITIES,
    FrontCarrier,
    Kind,
    column_owner,
    columns_of,
)
from inspection.compute.stance import (
    Derivation,
    Field,
    Standing,
    inputs_of,
    quantities_reading,
    readings_behind,
)
from tests.inspection.compute.cars import LEVEL, make_field

_WORDS = {
    name: len(QUANTITIES[name].words or ())
    for name in ("layout", "front_carrier", "axle_height_to", "axle_held")
}
_DERIVED = [key for key, row in QUANTITIES.items() if row.has_formula]


def _cars(carrier: FrontCarrier, seed: int) -> list[dict[str, float]]:
    """Plain, uneven, with corners, with axles read otherwise, with more taken."""
    rng = np.random.default_rng(seed)
    uneven = {
        name: at if name in _WORDS or name.startswith("teeth") else at + rng.uniform(-1)
        for name, at in LEVEL.items()
    }
    uneven["front_carrier"] = float(tuple(FrontCarrier).index(carrier))
    corners = {
        f"outline_{k}_{axis}": rng.uniform(*span)
        for k in range(1, 9)
        for axis, span in (("x", (-10, 100)), ("y", (-20, 20)), ("z", (-0.2, 0.2)))
    }
    axles = {"axle_height_to": 1.0, "axle_held": 1.0, "tyre_sink": 0.02}
    axles |= {"axle_diameter": 2.38, "axle_play_vertical": 0.05}
    more = {"can_middle_y": 1.5, "can_half_width": 9.0, "track_rear": 58.0}
    more |= {"centre_of_gravity_x": 40.0, "centre_of_gravity_y": 0.7}
    more |= {"motor_lift_front": 0.3, "datum_half_width_front": 21.0}
    some = {name: at for name, at in corners.items() if "_7_" in name or "_2_" in name}
    return [
        uneven,
        uneven | axles,
        uneven | axles | {"axle_height_to": 2.0} | more,
        uneven | corners | more,
        uneven | some | axles,
    ]


def _changed(car: Mapping[str, float]) -> Field:
    """Take the car, then the car with each of its columns changed in turn."""
    names = list(car)
    rows = [dict(car)]
    for name in names:
        codes = _WORDS.get(name)
        other = (car[name] + 1) % codes if codes else car[name] + 0.37
        rows.append({**car, name: other})
    return make_field(rows, also=())


def _values(field: Field, key: str) -> np.ndarray:
    places = Standing(Derivation(field, traced=False)).places(key)
    return np.array(
        [np.where(place.present, place.traced.value, np.inf) for place in places]
    )


def _movers(carrier: FrontCarrier, seed: int) -> dict[str, set[str]]:
    """By quantity, the columns that move it on some car."""
    found: dict[str, set[str]] = {key: set() for key in _DERIVED}
    for car in _cars(carrier, seed):
        field = _changed(car)
        for key in _DERIVED:
            values = _values(field, key)
            same = (values == values[:, :1]) | (
                np.isnan(values) & np.isnan(values[:, :1])
            )
            moved = np.flatnonzero(~same.all(axis=0)) - 1
            found[key] |= {list(car)[at] for at in moved}
    return found


@pytest.mark.parametrize("carrier", FrontCarrier)
@pytest.mark.parametrize("seed", range(5))
def test_what_moves_a_quantity_is_among_what_it_reads(
    carrier: FrontCarrier, seed: int
) -> None:
    for key, movers in _movers(carrier, seed).items():
        assert movers <= inputs_of(key, carrier), key


@pytest.mark.parametrize("carrier", FrontCarrier)
def test_what_a_quantity_reads_moves_it_somewhere(carrier: FrontCarrier) -> None:
    """Little is listed that moves nothing: a value taken, and what weighs on a tip."""
    moved: dict[str, set[str]] = {key: set() for key in _DERIVED}
    for seed in range(5):
        for key, movers in _movers(carrier, seed).items():
            moved[key] |= movers
    for key in ("clearance_gear", "clearance_motor", "rollout", "motor_axle_offset"):
        idle = inputs_of(key, carrier) - moved[key] - set(columns_of(key))
        taken = {name for name in idle if QUANTITIES[column_owner(name)[0]].has_formula}
        assert idle - taken <= {
            "centre_of_gravity_y",
            "wheelbase_left",
            "wheelbase_right",
            "layout",
        }


@pytest.mark.parametrize(
    ("key", "column"),
    [
        ("clearance_rear", "axle_height_to"),
        ("clearance_rear", "axle_held"),
        ("clearance_rear", "axle_diameter"),
        ("clearance_rear", "axle_play_vertical"),
        ("clearance_rear", "tyre_sink"),
        ("clearance_rear", "outline_5_z"),
        ("clearance_motor", "can_middle_y"),
        ("axle_height_front", "axle_height_to"),
    ],
)
def test_quiet_inputs_are_read(key: str, column: str) -> None:
    for carrier in FrontCarrier:
        assert column in inputs_of(key, carrier)


def test_the_other_carriers_columns_are_not_read() -> None:
    wheels, guide = FrontCarrier.FRONT_WHEELS, FrontCarrier.GUIDE
    assert "guide_flange_height" not in inputs_of("clearance_gear", wheels)
    assert "guide_flange_height" in inputs_of("clearance_gear", guide)
    assert "tyre_diameter_front_left" not in inputs_of("clearance_gear", guide)


def test_a_quantity_that_a_car_cannot_have_asks_for_nothing() -> None:
    assert readings_behind("twist", FrontCarrier.GUIDE) == ()
    assert readings_behind("weight_car", FrontCarrier.GUIDE) == ()


@pytest.mark.parametrize("area", Area)
def test_a_changed_area_has_all_taken_again_that_it_moves(area: Area) -> None:
    again = columns_of_area(area)
    for carrier in FrontCarrier:
        for key, movers in _movers(carrier, 1).items():
            if movers & again - {"front_carrier"}:
                assert set(columns_of(key)) <= again, key


def test_every_reading_is_moved_by_some_area() -> None:
    moved = frozenset().union(*(columns_of_area(area) for area in Area))
    looked = {"magnets_allowed", "body_marked", "motor_sealed"}
    for name in set(COLUMNS) - moved - looked:
        assert QUANTITIES[column_owner(name)[0]].kind is Kind.DECLARED, name


def test_what_is_asked_for_a_quantity_is_read_by_it() -> None:
    for key in _DERIVED:
        for carrier in FrontCarrier:
            asked = readings_to_take([key], front_carrier=carrier)
            every = {*asked.tonight, *asked.stored, *asked.declared}
            assert every <= inputs_of(key, carrier)


def test_readers_are_those_whose_inputs_are_read() -> None:
    assert quantities_reading(frozenset({"teeth_gear"})) == {"gear_ratio", "rollout"}
    assert quantities_reading(frozenset({"weight_car"})) == frozenset()
