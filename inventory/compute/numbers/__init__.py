"""Numbers as people type them: units, strict reading, and what is asked about."""

from inventory.compute.numbers.beside_limits import (
    decimals_beside,
    exact_decimals,
    round_down,
    round_up,
)
from inventory.compute.numbers.doubts import (
    format_u,
    format_with_u,
    round_by_u,
)
from inventory.compute.numbers.kin import (
    Kin,
    kin_of,
    slip_among_kin,
)
from inventory.compute.numbers.kinds_of_unit import Unit
from inventory.compute.numbers.millionths import (
    MILLION,
    from_millionths,
    to_millionths,
)
from inventory.compute.numbers.misreadings import (
    KeyboardLayout,
    NumberError,
)
from inventory.compute.numbers.strange import (
    ALLOWANCE_MM,
    Known,
    KnownOf,
    Oddity,
    Strange,
    find_strange,
    find_strange_in,
)
from inventory.compute.numbers.suspects import (
    differs_from_last,
    slip_of_the_decimal,
)
from inventory.compute.numbers.units import (
    TypedNumber,
    UnprintableError,
    decimals_for,
    format_value,
    parse_reading,
    tolerance_um,
)
from inventory.compute.numbers.written import (
    MM_PER_INCH,
    MORE_DECIMALS,
    Written,
    writing,
    written_now,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "MILLION",
    "from_millionths",
    "to_millionths",
    "Unit",
    "TypedNumber",
    "parse_reading",
    "tolerance_um",
    "decimals_for",
    "Written",
    "writing",
    "written_now",
    "MM_PER_INCH",
    "MORE_DECIMALS",
    "format_value",
    "format_u",
    "format_with_u",
    "round_by_u",
    "exact_decimals",
    "decimals_beside",
    "round_up",
    "round_down",
    "UnprintableError",
    "NumberError",
    "KeyboardLayout",
    "find_strange",
    "find_strange_in",
    "Strange",
    "KnownOf",
    "Known",
    "Oddity",
    "ALLOWANCE_MM",
    "Kin",
    "kin_of",
    "slip_among_kin",
    "slip_of_the_decimal",
    "differs_from_last",
]
