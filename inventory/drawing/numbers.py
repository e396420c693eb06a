"""Numbers as people read them: rounded, a true minus, the local decimal sign."""

import math
from decimal import Decimal

from django.utils.formats import number_format

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
    return sign + str(number_format(abs(shown), places))
