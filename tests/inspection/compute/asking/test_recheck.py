"""What is taken again at a re-check (agreement 11)."""

import pytest

from inspection.compute.asking import (
    AREA_OF_POSITION,
    Area,
    columns_of_area,
    columns_to_retake,
)
from inspection.compute.night.entries import PartPosition
from inspection.compute.quantities.registry import COLUMNS, QUANTITIES, FrontCarrier
from inspection.compute.stance import inputs_of

WHEELS, GUIDE = FrontCarrier.FRONT_WHEELS, FrontCarrier.GUIDE


def again(*keys: str, areas: tuple[Area, ...] = ()) -> frozenset[str]:
    return columns_to_retake(keys, areas=areas, carrier=WHEELS)


def test_nothing_changed_and_nothing_refused_carries_all_over() -> None:
    assert not again()


def test_input_of_a_refused_rule_is_taken_again() -> None:
    assert again("weight_car") == {"weight_car"}
    mismatch = again("tyre_mismatch_rear")
    assert {"tyre_diameter_rear_left", "tyre_diameter_rear_right"} <= mismatch
    assert "weight_car" not in mismatch


def test_inputs_reach_through_derived_quantities() -> None:
    inputs = inputs_of("clearance_gear", WHEELS)
    assert {"clearance_gear", "gear_diameter", "axle_height_rear_left"} <= inputs
    assert "width_rear" in inputs  # through the track
    assert "wheelbase_left" in inputs
    assert "wheelbase_left" not in inputs_of("tyre_mismatch_rear", WHEELS)


def test_carrier_decides_what_a_stance_rests_on() -> None:
    assert "guide_lead" in inputs_of("twist", GUIDE) | inputs_of("rake", GUIDE)
    assert "guide_flange_height" not in inputs_of("rake", WHEELS)


@pytest.mark.parametrize("area", Area)
def test_every_area_moves_something_of_the_registry(area: Area) -> None:
    columns = columns_of_area(area)
    assert columns
    assert columns <= set(COLUMNS)


def test_other_tyres_move_everything_that_stands_on_them() -> None:
    columns = columns_of_area(Area.REAR_TYRES)
    taken_standing = {
        column
        for key, row in QUANTITIES.items()
        if key.startswith(("clearance_", "ride_height_"))
        for column in row.columns
    }
    assert taken_standing <= columns
    assert "can_height" not in columns


def test_every_position_of_a_part_belongs_to_an_area() -> None:
    assert set(AREA_OF_POSITION) == set(PartPosition)


def test_changed_area_is_taken_again() -> None:
    assert again(areas=(Area.MOTOR, Area.BODY)) == (
        columns_of_area(Area.MOTOR) | columns_of_area(Area.BODY)
    )
