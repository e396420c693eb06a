"""Numbers as people read them: rounded, a true minus, the club's decimal sign."""

import math
from decimal import Decimal

from inventory.compute.numbers import (
    MM_PER_INCH,
    MORE_DECIMALS,
    Unit,
    round_down,
    round_up,
    written_now,
)

MINUS = "\N{MINUS SIGN}"
NOTHING = "\N{EN DASH}"


def shown_number(
    value: float | Decimal | None, places: int = 2, *, signed: bool = False
) -> str:
    """Write a number; a dash for one that is not known."""
    if value is None or math.isnan(value):
        return NOTHING
    # Rounded first: -0.001 at two places is 0.00, which has no minus.
    shown = round(float(value), places)
    sign = MINUS if shown < 0 else "+" if signed and shown > 0 else ""
    return sign + written_now().sign(f"{abs(shown):.{places}f}")


def shown_length(value: float, places: int = 2, *, inwards: str = "") -> str:
    """Write a length with its unit; the least goes ``inwards`` up, the most down."""
    return f"{bare_length(value, places, inwards=inwards)} {length_unit()}"


def bare_length(value: float, places: int = 2, *, inwards: str = "") -> str:
    """Write a length in millimetres without its unit, in the unit it is read in."""
    if written_now().is_in_inches:
        value, places = value / MM_PER_INCH, places + MORE_DECIMALS
    if inwards and math.isfinite(value):
        value = {"up": round_up, "down": round_down}[inwards](value, decimals=places)
    return shown_number(value, places)


def length_unit() -> str:
    """Give the unit that lengths are read in."""
    way = written_now()
    return way.lengths_in.value if way.is_in_inches else Unit.MILLIMETRE.symbol
