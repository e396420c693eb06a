import numpy as np
import pytest

from inspection.compute.quantities.registry import UnknownColumnError
from inspection.compute.stance.fields import (
    Field,
    FieldShapeError,
    NotAMeasurementError,
    RepeatedColumnError,
)

NAMES = ("width_rear", "tyre_width_rear")


def field(**changed: object) -> Field:
    given = {
        "columns": NAMES,
        "value": np.array([[64.0, 16.0], [63.0, np.nan]]),
        "random": np.full((2, 2), 0.01),
        "systematic": np.zeros((2, 2)),
        "gauge": np.zeros((2, 2), dtype=np.int64),
    }
    return Field(**{**given, **changed})  # type: ignore[arg-type]


def test_field_knows_its_cars_and_columns() -> None:
    cars = field()
    assert cars.car_count == 2
    assert cars.position("tyre_width_rear") == 1
    assert cars.position("weight_car") is None


def test_field_not_measured_needs_no_uncertainty() -> None:
    random = np.array([[0.01, 0.01], [0.01, np.nan]])
    assert field(random=random).car_count == 2


@pytest.mark.parametrize("rows", [slice(1, 2), np.array([1])])
def test_field_take_keeps_the_rows_asked_for(rows: slice) -> None:
    bound = np.array([[0, 0], [1, 0]], dtype=np.int8)
    assert field().take(rows).value.tolist()[0][:1] == [63.0]
    assert field().take(rows).bound is None
    bounded = field(bound=bound).take(rows).bound
    assert bounded is not None
    assert bounded.tolist() == [[1, 0]]


def test_field_unknown_column_is_refused() -> None:
    with pytest.raises(UnknownColumnError, match="top_speed"):
        field(columns=("width_rear", "top_speed"))


def test_field_column_twice_is_refused() -> None:
    with pytest.raises(RepeatedColumnError):
        field(columns=("width_rear", "width_rear"))


@pytest.mark.parametrize(
    "changed",
    [
        {"random": np.zeros((2, 3))},
        {"gauge": np.zeros(2, dtype=np.int64)},
        {"bound": np.zeros((1, 2), dtype=np.int8)},
        {"columns": NAMES[:1]},
    ],
)
def test_field_arrays_of_other_shapes_are_refused(changed: dict[str, object]) -> None:
    with pytest.raises(FieldShapeError, match="of one shape"):
        field(**changed)


@pytest.mark.parametrize(
    "changed",
    [
        {"value": np.array([[64.0, 16.0], [63.0, np.inf]])},
        {"random": np.array([[0.0, 0.0], [-0.01, 0.0]])},
        {"systematic": np.array([[0.0, 0.0], [np.nan, 0.0]])},
    ],
)
def test_field_no_measurement_is_refused_with_its_place(
    changed: dict[str, object],
) -> None:
    with pytest.raises(NotAMeasurementError, match="Car 1"):
        field(**changed)
