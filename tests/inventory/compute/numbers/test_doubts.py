"""Values ± u, against the guide's own rounding and Python's significant digits."""

import re
from decimal import Decimal
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.numbers import (
    Unit,
    UnprintableError,
    format_u,
    format_value,
    format_with_u,
)

MM = Unit.MILLIMETRE


@pytest.mark.parametrize(
    ("value", "u", "unit", "text"),
    [
        # JCGM 100:2008 7.2.6: 10.057 62 ohm with u = 27 milliohm is 10.058 ohm.
        (10.05762, 0.027, Unit.OHM, "10.058 ± 0.027 Ω"),
        # JCGM 100:2008 7.2.2: 100.021 47 g with u = 0.35 mg.
        (100.02147, 0.00035, Unit.GRAM, "100.02147 ± 0.00035 g"),
        (18.3, 0.00312, MM, "18.3000 ± 0.0031 mm"),
        (-0.02, 0.0996, MM, "−0.02 ± 0.10 mm"),
        (24954.0, 234.0, Unit.RPM, "24950 ± 230 rpm"),
        (24954.0, 23.4, Unit.RPM, "24954 ± 23 rpm"),
        (1.25, 0.051, Unit.DEGREE, "1.250 ± 0.051°"),
        (11.0, 0.0, Unit.ONE, "11.00"),
        (12.3456, 0.0, MM, "12.3456 mm"),
        (12.3, 1e-7, MM, "12.30 mm"),
        (12.3, nan, MM, "12.30 mm"),
        (nan, 0.01, MM, "–"),
    ],
)
def test_value_and_u_end_at_the_same_place(
    value: float, u: float, unit: Unit, text: str
) -> None:
    assert format_with_u(value, u, unit=unit) == text


@given(st.floats(-1e5, 1e5), st.floats(1e-4, 1e4))
def test_u_has_two_digits_and_is_never_nothing(value: float, u: float) -> None:
    shown, said = format_with_u(value, u).split(" ± ")
    # The second opinion is Python's own formatting to two significant digits.
    assert Decimal(said) == Decimal(f"{u:.1e}")
    assert re.search("[1-9]", said)
    assert len(shown.partition(".")[2]) == len(said.partition(".")[2])
    place = Decimal(f"{u:.1e}").as_tuple().exponent
    assert abs(float(shown.replace("−", "-")) - value) <= 0.5001 * 10.0 ** int(place)
    assert said == format_u(u)


@pytest.mark.parametrize("u", [0.0, 4e-7, nan, inf])
def test_no_u_is_not_printed(u: float) -> None:
    assert format_u(u) == ""


@pytest.mark.parametrize(
    ("value", "decimals"), [(1e28, 2), (-1e15, 0), (1.0, -1), (1.0, 13), (nan, 99)]
)
def test_what_cannot_be_printed_is_refused(value: float, decimals: int) -> None:
    with pytest.raises(UnprintableError, match="expected"):
        format_value(value, decimals=decimals)
