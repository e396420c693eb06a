"""A batch's estimates at once: the same as tyre by tyre, and what comes first."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.batches.estimates import BatchEstimate, estimates_of_batch
from inventory.compute.batches.loose_bags import bag_of_rows
from inventory.compute.batches.rows import BatchReading, BatchRow
from inventory.compute.measuring.gauges import Gauge
from inventory.compute.measuring.tyre_form import tyre_form
from inventory.compute.pairing.bag import Feature, GroupBy
from inventory.compute.stock.words import PartQuantity, Section

CALIPER = Gauge(resolution=0.01, max_permissible_error=0.02, repeatability=0.03)
GAUGES = dict.fromkeys(PartQuantity, CALIPER)

Q = PartQuantity


def reading(
    mm: float,
    quantity: PartQuantity = Q.TYRE_DIAMETER,
    section: Section = Section.MIDDLE,
) -> BatchReading:
    return BatchReading(
        quantity=quantity,
        section=section,
        millionths=round(mm * 1e6),
        text=f"{mm}",
        mark="",
    )


def row(*readings: BatchReading, number: int = 1) -> BatchRow:
    return BatchRow(number=number, tag="", readings=readings)


def said(
    rows: list[BatchRow],
) -> dict[tuple[int, PartQuantity], BatchEstimate]:
    found = estimates_of_batch(rows, GAUGES)
    by_key = {(one.row, one.quantity): one for one in found}
    assert len(by_key) == len(found), "one estimate a quantity of a row"
    return by_key


sizes = st.lists(
    st.integers(1_800, 1_900).map(lambda step: step / 100), min_size=1, max_size=5
)


@given(st.lists(st.tuples(sizes, sizes), min_size=1, max_size=6))
def test_each_tyre_comes_out_as_if_alone(
    tyres: list[tuple[list[float], list[float]]],
) -> None:
    rows = [
        row(
            *(reading(mm, section=Section.INNER) for mm in inner),
            *(reading(mm, section=Section.OUTER) for mm in outer),
        )
        for inner, outer in tyres
    ]
    found = said(rows)
    for place, (inner, outer) in enumerate(tyres):
        table = np.full((3, max(len(inner), len(outer))), np.nan)
        table[0, : len(inner)] = inner
        table[2, : len(outer)] = outer
        alone = tyre_form(table, CALIPER)
        one = found[place, Q.TYRE_DIAMETER]
        assert one.value == round(alone.diameter.value * 1e6)
        assert one.random == round(alone.diameter.random * 1e6)
        assert one.systematic == round(alone.diameter.systematic * 1e6)
        assert one.count == len(inner) + len(outer)
        assert found[place, Q.TAPER].value == round(alone.taper * 1e6)
        is_form = max(len(inner), len(outer)) > 1
        assert ((place, Q.OUT_OF_ROUND) in found) == is_form


def test_single_reading_has_no_form() -> None:
    assert set(said([row(reading(18.42))])) == {(0, Q.TYRE_DIAMETER)}


def test_form_is_a_difference_without_the_gauges_own_error() -> None:
    one = said([row(reading(18.40), reading(18.50))])[0, Q.OUT_OF_ROUND]
    # Squares: 0.1, less two of 0.03 and of a step of 0.01 over √12, by hand.
    assert one.value == pytest.approx(
        1e6 * (0.1**2 - 2 * (0.03**2 + 0.01**2 / 12)) ** 0.5, abs=100
    )
    assert one.systematic == 0
    # √2 · √(0.03² + 0.01²/12), by hand.
    assert one.random == pytest.approx(42_622, abs=1)


def test_form_that_the_row_gives_stands_before_the_one_worked_out() -> None:
    given_form = row(reading(18.42), reading(18.48), reading(0.02, Q.OUT_OF_ROUND))
    assert said([given_form])[0, Q.OUT_OF_ROUND].value == 20_000


def test_rows_without_a_quantity_are_passed_over() -> None:
    rows = [
        row(reading(11.0, Q.TYRE_WIDTH)),
        row(number=2),
        row(reading(11.2, Q.TYRE_WIDTH), reading(11.4, Q.TYRE_WIDTH), number=3),
    ]
    found = said(rows)
    assert set(found) == {(0, Q.TYRE_WIDTH), (2, Q.TYRE_WIDTH)}
    assert found[2, Q.TYRE_WIDTH].value == 11_300_000


def test_no_row_has_no_estimate() -> None:
    assert estimates_of_batch([], GAUGES) == []


def test_rows_become_a_bag_in_their_order() -> None:
    rows = [
        BatchRow(
            number=1,
            tag="A",
            readings=(reading(18.42), reading(18.44), reading(40, Q.MASS)),
            words={"compound": "soft"},
        ),
        BatchRow(
            number=2, tag="B", readings=(reading(18.50), reading(11, Q.TYRE_WIDTH))
        ),
    ]
    bag = bag_of_rows(rows, estimates_of_batch(rows, GAUGES))
    assert bag.diameter_mm.tolist() == pytest.approx([18.43, 18.50])
    assert bag.reading_count.tolist() == [2, 1]
    assert bag.words[GroupBy.COMPOUND] == ["soft", ""]
    assert np.isnan(bag.features[Feature.WIDTH][0])
    assert bag.features[Feature.WIDTH][1] == pytest.approx(11.0)
