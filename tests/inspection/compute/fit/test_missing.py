"""What is missing is named input by input, and what is known is not."""

from collections import Counter

import numpy as np
import pytest

from inspection.compute.fit import (
    OF_THE_CAR,
    CheckState,
    Envelope,
    Lacking,
    NeedKind,
    asking_order,
    gear_fit,
    lacking,
    motor_fit,
    needs_of,
    pinion_fit,
    tyre_fit,
)
from inspection.compute.fit.missing import _in_turn
from inspection.compute.quantities import COLUMNS, FrontCarrier, Layout
from inspection.compute.what_if import Gears, Motors, Pairs, Pinions
from tests.inspection.compute.fit.fit_cars import in_line, sidewinder

UNKNOWN = np.full(1, np.nan)


def names(found: tuple[Lacking, ...]) -> set[str]:
    return {one.name for one in found}


def test_a_bare_gear_on_a_car_of_which_all_is_known_lacks_its_own_sizes() -> None:
    gear, car = Gears(teeth=np.full(1, 27.0)), sidewinder()
    found = lacking(gear, car, gear_fit(gear, car).table)
    assert names(found) == {
        "gear.bore_mm",
        "gear.module_mm",
        "gear.outside_diameter_mm",
        "gear.hub_width_mm",
    }
    assert all(one.is_of_the_part and one.rows == 1 for one in found)


@pytest.mark.parametrize(
    ("size", "name"),
    [
        ("axle_to_bar_mm", "room.axle_to_bar_mm"),
        ("axle_room_mm", "room.axle_room_mm"),
    ],
)
def test_room_that_is_not_known_is_the_cars_and_comes_first(
    size: str, name: str
) -> None:
    gear = Gears(teeth=np.full(1, 27.0))
    car = sidewinder(mounting={size: np.nan})
    found = lacking(gear, car, gear_fit(gear, car).table)
    assert found[0] == Lacking(name=name, is_of_the_part=False, rows=1)


def test_a_clearance_is_named_by_the_readings_behind_it() -> None:
    gear = Gears(teeth=np.full(1, 27.0), outside_diameter_mm=np.full(1, 15.0))
    car = sidewinder({"wheelbase_left": np.nan})
    found = names(lacking(gear, car, gear_fit(gear, car).table))
    assert "car.wheelbase_left" in found
    assert "car.wheelbase_right" not in found
    assert "car.gear_diameter" not in found


def test_so_many_parts_lack_a_size() -> None:
    gears = Gears(
        teeth=np.array([27.0, 28.0, 29.0]), bore_mm=np.array([2.40, np.nan, np.nan])
    )
    car = sidewinder()
    found = lacking(gears, car, gear_fit(gears, car).table)
    (bore,) = (one for one in found if one.name == "gear.bore_mm")
    assert bore.rows == 2


def test_pinions_motors_and_tyres_name_their_own() -> None:
    pinion, motor = Pinions(teeth=np.full(1, 9.0)), Motors(can_height_mm=UNKNOWN)
    tyres = Pairs(left_diameter_mm=UNKNOWN, right_diameter_mm=UNKNOWN)
    car = in_line(
        rules={"tyre_diameter_rear": (18.0, None), "weight_car": (80.0, None)}
    )
    assert "pinion.bore_mm" in names(
        lacking(pinion, car, pinion_fit(pinion, car).table)
    )
    assert "motor.can_height_mm" in names(
        lacking(motor, car, motor_fit(motor, car).table)
    )
    found = names(lacking(tyres, car, tyre_fit(tyres, car).table))
    assert "pair.bore_mm" in found
    # What a tyre brings is no size of the car's to be measured.
    assert not {name for name in found if name.startswith("car.tyre_diameter_rear")}


@pytest.mark.parametrize("layout", Layout)
@pytest.mark.parametrize("carrier", FrontCarrier)
def test_every_question_names_columns_that_there_are(
    layout: Layout, carrier: FrontCarrier
) -> None:
    for one in needs_of(layout, carrier):
        assert one.needs
        assert len(set(one.needs)) == len(one.needs), one.title
        columns = {need.name for need in one.needs if need.kind is NeedKind.COLUMN}
        assert columns <= set(COLUMNS)
        assert not columns & OF_THE_CAR


def test_a_car_without_a_declared_front_counts_as_the_first_of_them() -> None:
    gear = Gears(teeth=np.full(1, 27.0), outside_diameter_mm=np.full(1, 15.0))
    car: Envelope = sidewinder({"front_carrier": np.nan, "wheelbase_left": np.nan})
    assert "car.wheelbase_left" in names(lacking(gear, car, gear_fit(gear, car).table))


GEARS = Gears(
    teeth=np.array([25.0, 26.0, 27.0, 28.0, 27.0, 27.0]),
    outside_diameter_mm=np.array([13.5, 14.0, 14.5, 15.0, 14.6, 14.5]),
    module_mm=np.full(6, 0.5),
    # The last one lacks a size of its own, and waits for nothing of the car.
    bore_mm=np.array([2.40, 2.40, 2.40, 2.40, 2.40, np.nan]),
    hub_width_mm=np.full(6, 6.0),
)


@pytest.mark.parametrize(
    ("unknown", "first"),
    [
        ({"axle_diameter"}, {"car.axle_diameter"}),
        ({"slot_low_mm", "slot_high_mm"}, {"room.slot_low_mm", "room.slot_high_mm"}),
        ({"axle_to_bar_mm", "axle_diameter", "slot_low_mm"}, None),
        ({"wheelbase_left", "axle_room_mm"}, None),
    ],
)
def test_what_is_asked_first_decides_as_many_parts_as_it_says(
    unknown: set[str], first: set[str] | None
) -> None:
    def car_without(names: set[str]) -> Envelope:
        room = {name: np.nan for name in names if name.endswith("_mm")}
        own = {name: np.nan for name in names if not name.endswith("_mm")}
        return sidewinder(own, mounting=room)

    def decided(car: Envelope) -> int:
        table = gear_fit(GEARS, car).table
        fails, waits = (
            sum(one.state == state.code for one in table.columns)
            for state in (CheckState.FAILS, CheckState.NOT_MEASURED)
        )
        # One that fails is judged, whatever else is not known of it.
        return int(np.sum((np.array(fails) > 0) | (np.array(waits) == 0)))

    car = car_without(unknown)
    groups = asking_order(GEARS, car, gear_fit(GEARS, car).table)
    assert first is None or set(groups[0].names) == first
    before = decided(car)
    # Measured indeed, group by group: a gear may fail before all is known of it.
    for group in groups:
        unknown = unknown - {name.partition(".")[2] for name in group.names}
        now = decided(car_without(unknown))
        assert now - before >= group.rows > 0
        before = now
    assert not unknown
    assert before == len(GEARS.teeth) - 1


def test_more_parts_for_less_measuring_comes_first() -> None:
    # By hand: 3 for a alone are more than (2 + 1) / 2 for b and c; after it these
    # decide the one that waits for a and b as well.
    sets = Counter(
        {
            frozenset({"a"}): 3,
            frozenset({"b", "c"}): 2,
            frozenset({"a", "b"}): 1,
        }
    )
    found = [(one.names, one.rows) for one in _in_turn(sets, ["a", "b", "c"])]
    assert found == [(("a",), 3), (("b", "c"), 3)]
