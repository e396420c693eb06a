"""Traced values against slopes known in closed form, and against `linearise`."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspection.compute.geometry.slopes import (
    Traced,
    apart,
    choose,
    derive,
    side_by_side,
)
from inspection.compute.judging.uncertainty import linearise
from inventory.compute.arrays import Floats


def reading(name: str, *values: float) -> Traced:
    return Traced(
        value=np.array(values), readings=(name,), table=np.ones((1, len(values)))
    )


def test_derive_takes_the_slopes_of_a_product() -> None:
    (area,) = derive(lambda m: m[:, :1] * m[:, 1:], [reading("a", 3), reading("b", 5)])
    assert area.value.tolist() == [15.0]
    assert area.slopes["a"][0] == pytest.approx(5.0)
    assert area.slopes["b"][0] == pytest.approx(3.0)


def test_derive_chains_and_adds_the_roads_from_one_reading() -> None:
    a = reading("a", 2.0, 4.0)
    (square,) = derive(lambda m: m**2, [a])
    (both,) = derive(lambda m: m[:, :1] * m[:, 1:], [square, a])
    # d a³ / d a = 3 a².
    np.testing.assert_allclose(both.slopes["a"], [12.0, 48.0], rtol=1e-6)


def test_derive_of_exact_values_has_no_slopes() -> None:
    exact = Traced(value=np.array([2.0]))
    (double,) = derive(lambda m: 2 * m, [exact])
    assert double.value.tolist() == [4.0]
    assert double.slopes == {}


def test_derive_exact_inputs_are_not_stepped() -> None:
    exact = Traced(value=np.array([2.0]))
    (product,) = derive(lambda m: m[:, :1] * m[:, 1:], [exact, reading("a", 3.0)])
    assert set(product.slopes) == {"a"}
    assert product.slopes["a"][0] == pytest.approx(2.0)


def test_derive_leaves_out_what_an_output_does_not_touch() -> None:
    one, other = derive(
        lambda m: m.copy(),
        [reading("a", 1.0), reading("b", 2.0)],
        touches=np.eye(2, dtype=np.bool_),
    )
    assert set(one.slopes) == {"a"}
    assert set(other.slopes) == {"b"}


def test_derive_not_known_has_slope_nothing() -> None:
    (total,) = derive(
        lambda m: m.sum(axis=1, keepdims=True),
        [reading("a", 1.0, np.nan), reading("b", 2.0, 2.0)],
    )
    np.testing.assert_array_equal(total.value, [3.0, np.nan])
    assert not total.slopes["a"][1]
    assert not total.slopes["b"][1]


def test_choose_takes_value_and_slopes_car_by_car() -> None:
    first = np.array([True, False])
    chosen = choose(first, reading("a", 1.0, 2.0), reading("b", 3.0, 4.0))
    assert chosen.value.tolist() == [1.0, 4.0]
    assert chosen.slopes["a"].tolist() == [1.0, 0.0]
    assert chosen.slopes["b"].tolist() == [0.0, 1.0]


def test_derive_side_by_side_gives_what_each_gives_alone() -> None:
    length, exact = reading("length", 3.0, 5.0), Traced(value=np.array([2.0, 0.5]))
    (square,) = derive(lambda m: m**2, [length])
    pairs = [(square, reading("a", 7.0, 1.0)), (length, exact), (square, square)]

    def product(m: Floats) -> Floats:
        return m[:, :1] * m[:, 1:]

    inputs = [side_by_side(one) for one in zip(*pairs, strict=True)]
    (whole,) = derive(product, inputs)
    for found, pair in zip(apart(whole, pairs), pairs, strict=True):
        (alone,) = derive(product, pair)
        assert found.readings == alone.readings
        np.testing.assert_array_equal(found.value, alone.value)
        np.testing.assert_array_equal(found.table, alone.table)


@given(
    st.lists(
        st.tuples(*[st.floats(0.5, 50.0)] * 3),
        min_size=1,
        max_size=4,
    )
)
@settings(max_examples=60)
def test_derive_of_a_chain_agrees_with_one_step_over_all(
    rows: list[tuple[float, ...]],
) -> None:
    def first(m: Floats) -> Floats:
        return np.column_stack((m[:, 0] / m[:, 1], np.arctan(m[:, 1])))

    def second(m: Floats) -> Floats:
        return np.hypot(m[:, :1], m[:, 1:2]) + m[:, 2:]

    values = np.array(rows)
    inputs = [
        reading(name, *column) for name, column in zip("abc", values.T, strict=True)
    ]
    (found,) = derive(second, [*derive(first, inputs[:2]), inputs[2]])
    whole = linearise(
        lambda m: second(np.column_stack((first(m[:, :2]), m[:, 2]))), values
    )
    np.testing.assert_array_equal(found.value, whole.value[:, 0])
    slopes = np.column_stack([found.slopes[name] for name in "abc"])
    # The steps of 1e-3 at values from 0.5 on leave h²/6 of a third derivative.
    np.testing.assert_allclose(slopes, whole.sensitivity[:, :, 0], rtol=1e-4, atol=1e-4)
