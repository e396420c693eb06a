"""What is asked about before it is written, of one reading and of several."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.measuring.instruments import Instrument
from inventory.compute.measuring.masters import (
    find_strange_master,
    find_strange_of_master,
    master_range,
)
from inventory.compute.numbers.strange import (
    ALLOWANCE_MM,
    Known,
    KnownOf,
    Oddity,
    find_strange,
    find_strange_in,
)
from inventory.compute.numbers.units import Unit
from inventory.words.strange import question_words

TYRE = (8.0, 32.0)
# Sizes of whole micrometres, as a gauge reads them.
SIZES = st.integers(8_000, 32_000).map(lambda um: um / 1000)


def beside(*values: float, u: float = 0.0) -> list[Known]:
    return [
        Known(of=KnownOf.OTHER_SIDE, value=value, standard_uncertainty=u)
        for value in values
    ]


def test_another_tyres_value_names_all_that_it_is_unlike_and_where_it_may_be_from() -> (
    None
):
    odd = find_strange(
        18.55,
        plausible=TYRE,
        beside=[
            Known(of=KnownOf.FITTED_PART, value=19.03, name="T7"),
            Known(of=KnownOf.OTHER_SIDE, value=19.02),
        ],
        elsewhere=[
            Known(
                of=KnownOf.OTHER_PLACE, value=18.54, name="Tyre diameter, front, left"
            ),
            Known(
                of=KnownOf.OTHER_PLACE, value=18.41, name="Tyre diameter, front, right"
            ),
        ],
    )
    assert odd is not None
    assert odd.oddity is Oddity.UNLIKE
    assert question_words(odd, "18.55") == (
        "18.55; the fitted part T7 has 19.03 mm, the other side has 19.02 mm, "
        "“Tyre diameter, front, left” has this value. Is it right?"
    )
    assert odd.meant_text() == ""


@pytest.mark.parametrize("like", [(18.60, 19.02), (19.03, 18.30)])
def test_what_is_like_one_thing_known_of_it_is_not_asked_about(
    like: tuple[float, float],
) -> None:
    assert find_strange(18.55, beside=beside(*like)) is None


@pytest.mark.parametrize(("gap_um", "is_odd"), [(300, False), (301, True)])
@pytest.mark.parametrize("way", [-1, 1])
def test_three_tenths_are_allowed_and_no_more(
    gap_um: int, way: int, *, is_odd: bool
) -> None:
    value = 19.0 + way * gap_um / 1000
    assert (find_strange(value, beside=beside(19.0)) is not None) is is_odd
    assert bool(find_strange_in([19.0, value])) is is_odd


def test_what_is_known_badly_excuses_more() -> None:
    assert find_strange(19.4, beside=beside(19.0, u=0.1)) is None
    assert find_strange(19.4, beside=beside(19.0, u=0.01)) is not None


@pytest.mark.parametrize("unit", [Unit.GRAM, Unit.RPM, Unit.OHM])
def test_only_lengths_are_held_against_others(unit: Unit) -> None:
    assert find_strange(90.0, unit=unit, beside=beside(98.0)) is None
    assert find_strange_in([90.0, 98.0], unit=unit) == {}


@pytest.mark.parametrize(
    ("value", "plausible", "asked"),
    [
        # A gear: 17.5 mm, or 6.89 mm shown in inches and thousandths.
        (175.0, (3.0, 60.0), "175 cannot be right (3 to 60 mm)."),
        (1234.0, TYRE, "1234 cannot be right (8 to 32 mm). Did the gauge show 12.34?"),
        (7.999, TYRE, "7.999 cannot be right (8 to 32 mm)."),
    ],
)
def test_outside_its_range_it_is_asked_about_whatever_else_is_known(
    value: float, plausible: tuple[float, float], asked: str
) -> None:
    odd = find_strange(value, plausible=plausible, beside=beside(value))
    assert odd is not None
    assert odd.oddity is Oddity.OUTSIDE
    assert question_words(odd, f"{value:g}") == asked


@pytest.mark.parametrize("value", [8.0, 32.0, 8.0000004])
def test_the_ends_of_the_range_are_inside(value: float) -> None:
    assert find_strange(value, plausible=TYRE) is None


def test_spread_is_asked_about_once_where_it_comes_from() -> None:
    odd = find_strange_in(
        [20.01, 20.61, 20.02], plausible=TYRE, of=KnownOf.ANOTHER_OF_TYRE
    )
    assert list(odd) == [1]
    assert odd[1].oddity is Oddity.SPREAD
    assert question_words(odd[1], "20.61") == (
        "20.61; another reading of this tyre is 20.01 mm. Is it right?"
    )


def test_of_two_that_differ_the_later_is_asked_about() -> None:
    assert list(find_strange_in([20.6, 20.0])) == [1]
    assert list(find_strange_in([20.0, 20.0, 20.6, 20.6])) == [3]


def test_each_that_is_outside_is_named_before_any_spread() -> None:
    assert list(find_strange_in([201.0, 20.1, 2.0], plausible=TYRE)) == [0, 2]
    assert find_strange_in([]) == {}


@given(st.lists(SIZES, min_size=1, max_size=9), SIZES)
def test_a_set_is_asked_about_exactly_when_it_spreads_too_far(
    values: list[float], shift: float
) -> None:
    odd = find_strange_in(values)
    assert bool(odd) == (round(float(np.ptp(values)), 6) > ALLOWANCE_MM)
    assert len(odd) <= 1
    # Where it stands among its like says nothing of the size itself.
    assert odd.keys() == find_strange_in([one + shift for one in values]).keys()


@pytest.mark.parametrize(
    ("instrument", "unit", "master", "is_odd"),
    [
        (Instrument.CALIPER, Unit.MILLIMETRE, 20.0, False),
        (Instrument.CALIPER, Unit.MILLIMETRE, 2000.0, True),
        (Instrument.FEELER, Unit.MILLIMETRE, 20.0, True),
        (Instrument.SCALE, Unit.GRAM, 100.0, False),
        (Instrument.SCALE, Unit.GRAM, 0.2, True),
        (Instrument.EYE, Unit.ONE, 1e9, False),
    ],
)
def test_a_gauge_is_asked_for_a_master_that_it_can_read(
    instrument: Instrument, unit: Unit, master: float, *, is_odd: bool
) -> None:
    odd = find_strange_master(master, instrument=instrument, unit=unit)
    assert (odd is not None) is is_odd


def test_every_instrument_that_reads_has_masters() -> None:
    known = {one for one in Instrument for unit in Unit if master_range(one, unit)}
    assert known == set(Instrument) - {Instrument.EYE}


@pytest.mark.parametrize(
    ("reading", "master", "is_odd"),
    [
        (20.05, 20.0, False),  # a gauge that fails, and is believed
        (20.29, 20.0, False),
        (20.5, 20.0, True),
        (0.787, 20.0, True),  # inches
        (2.001, 20.0, True),
        (0.4, 0.0, True),
        (0.02, 0.0, False),
    ],
)
def test_a_reading_far_from_its_master_is_asked_about(
    reading: float, master: float, *, is_odd: bool
) -> None:
    odd = find_strange_of_master(reading, master=master, unit=Unit.MILLIMETRE)
    assert (odd is not None) is is_odd
