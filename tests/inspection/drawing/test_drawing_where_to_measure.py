"""Every quantity of the registry has a picture of where it is measured."""

from inspect import isfunction

import pytest

from inspection.compute.quantities.registry import COLUMNS, QUANTITIES, column_owner
from inspection.drawing import measured_build, measured_stance, measured_wheels
from inspection.drawing.where_to_measure import (
    PICTURES,
    NoSuchPictureError,
    draw_where_to_measure,
)
from tests.inventory.drawings import assert_well_made, described, read, with_pen


@pytest.mark.parametrize("column", COLUMNS)
def test_every_column_has_its_picture(column: str) -> None:
    quantity = QUANTITIES[column_owner(column)[0]]
    svg = draw_where_to_measure(
        quantity.picture, column=column, label=quantity.label, how=quantity.how
    )
    assert_well_made(svg)
    assert described(svg) == quantity.how
    assert read(svg).get("aria-label") == quantity.label
    marked = [with_pen(svg, pen) for pen in ("d-hand", "d-hand-line")]
    assert any(marked), "nothing is shown as measured"


def test_no_picture_is_drawn_for_nothing() -> None:
    painters = {
        name
        for module in (measured_stance, measured_wheels, measured_build)
        for name, painter in vars(module).items()
        if isfunction(painter) and painter.__module__ == module.__name__
    }
    shared = {"body_from_behind"}
    drawn = {name for name in painters - shared if not name.startswith("_")}
    assert drawn == PICTURES.keys()
    assert all(PICTURES[key].__name__ == key for key in PICTURES)


@pytest.mark.parametrize(
    "key",
    ["tyre_diameter_rear", "tyre_diameter_front", "axle_height_rear", "wheelbase"],
)
def test_left_and_right_differ(key: str) -> None:
    row = QUANTITIES[key]
    left, right = (draw_where_to_measure(row.picture, column=c) for c in row.columns)
    assert left != right


@pytest.mark.parametrize("key", ["tyre_width", "width", "track", "ride_height"])
def test_rear_and_front_differ(key: str) -> None:
    rear, front = (
        draw_where_to_measure(QUANTITIES[f"{key}_{end}"].picture, column=f"{key}_{end}")
        for end in ("rear", "front")
    )
    assert rear != front


def test_unknown_picture_is_refused_by_name() -> None:
    with pytest.raises(NoSuchPictureError, match="spoiler") as refused:
        draw_where_to_measure("spoiler")
    assert refused.value.code == "no_such_picture"
