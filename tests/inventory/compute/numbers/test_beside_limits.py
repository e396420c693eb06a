"""What is printed beside a limit, read back and compared as a person would."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.numbers import (
    decimals_beside,
    exact_decimals,
    format_value,
    round_down,
    round_up,
)
from inventory.drawing.numbers import shown_number

millionths = st.integers(-(10**8), 10**8)


def read(text: str) -> Decimal:
    return Decimal(text.replace("−", "-"))


@given(limit=millionths, away=st.integers(-(10**5), 10**5), decimals=st.integers(0, 3))
def test_value_reads_as_it_stands_to_its_limit(
    limit: int, away: int, decimals: int
) -> None:
    value, at = (limit + away) / 1e6, limit / 1e6
    count = decimals_beside(value, [at], decimals=decimals)
    shown = format_value(value, decimals=count)
    wanted = format_value(at, decimals=exact_decimals(at, least=decimals))
    assert read(wanted) == Decimal(limit).scaleb(-6)
    assert (read(shown) > read(wanted)) == (away > 0)
    assert (read(shown) < read(wanted)) == (away < 0)
    # The pages round floats as what they are.
    other = shown_number(value, count)
    assert (read(other) > read(wanted)) == (away > 0)


@given(value=millionths, decimals=st.integers(0, 6))
def test_no_more_digits_than_it_takes(value: int, decimals: int) -> None:
    count = decimals_beside(value / 1e6, [0.0, None, math.nan], decimals=decimals)
    if count > decimals:
        assert read(format_value(value / 1e6, decimals=count - 1)) == 0
        assert value != 0


@given(value=millionths, decimals=st.integers(0, 5))
def test_advice_is_rounded_inwards(value: int, decimals: int) -> None:
    exact, step = Decimal(value).scaleb(-6), Decimal(1).scaleb(-decimals)
    up = Decimal(repr(round_up(value / 1e6, decimals=decimals)))
    down = Decimal(repr(round_down(value / 1e6, decimals=decimals)))
    assert exact <= up < exact + step
    assert exact - step < down <= exact


@pytest.mark.parametrize(
    ("value", "limit", "shown", "wanted"),
    [
        (18.2996, 18.3, "18.2996", "18.30"),
        (18.3, 18.3, "18.30", "18.30"),
        # 3/64 in, at 25.4 mm an inch.
        (1.19, 1.190625, "1.19", "1.190625"),
        (1.1907, 1.190625, "1.191", "1.190625"),
        (-0.0004, 0.0, "−0.0004", "0.00"),
        # Beyond a millionth nothing is compared.
        (18.2999999, 18.3, "18.30", "18.30"),
    ],
)
def test_digits_beside_a_limit(
    value: float, limit: float, shown: str, wanted: str
) -> None:
    count = decimals_beside(value, [limit], decimals=2)
    assert format_value(value, decimals=count) == shown
    assert format_value(limit, decimals=exact_decimals(limit, least=2)) == wanted


def test_what_is_not_known_has_the_usual_digits() -> None:
    assert decimals_beside(math.nan, [1.0], decimals=2) == 2
    assert exact_decimals(math.inf, least=2) == 2
    assert math.isnan(round_up(math.nan, decimals=2))
