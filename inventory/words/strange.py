"""What is asked about a reading before it is written."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inventory.compute.numbers import (
    Known,
    KnownOf,
    Strange,
    format_value,
    round_down,
    round_up,
)

_BESIDE: Final[Mapping[KnownOf, Promise]] = MappingProxyType(
    {
        KnownOf.LAST_READING: gettext_lazy(
            "the last reading of this car was %(value)s"
        ),
        KnownOf.FITTED_PART: gettext_lazy("the fitted part %(name)s has %(value)s"),
        KnownOf.OTHER_SIDE: gettext_lazy("the other side has %(value)s"),
        KnownOf.OTHER_PLACE: gettext_lazy("“%(name)s” has %(value)s"),
        KnownOf.ANOTHER_READING: gettext_lazy("another reading is %(value)s"),
        KnownOf.ANOTHER_OF_TYRE: gettext_lazy(
            "another reading of this tyre is %(value)s"
        ),
        KnownOf.MASTER: gettext_lazy("the master is %(value)s"),
    }
)


def question_words(odd: Strange, typed: str, *, decimals: int = 2) -> str:
    """
    Ask about a reading, in a sentence that names what was typed.

    Parameters
    ----------
    odd : Strange
        What is odd about it.
    typed : str
        The reading as typed.
    decimals : int, optional
        Decimal places of the numbers beside it.

    Returns
    -------
    str
        One sentence, or two.
    """
    filled_in = {"typed": typed, "meant": odd.meant_text(decimals)}
    symbol = odd.unit.symbol
    if odd.plausible is not None:
        low, high = odd.plausible
        filled_in["range"] = _range(f"{low:g}", f"{high:g}", symbol)
        if not filled_in["meant"]:
            return _("%(typed)s cannot be right (%(range)s).") % filled_in
        words = _(
            "%(typed)s cannot be right (%(range)s). Did the gauge show %(meant)s?"
        )
        return words % filled_in
    if odd.kin is not None:
        low = round_up(odd.kin.low, decimals=decimals)
        high = round_down(odd.kin.high, decimals=decimals)
        filled_in["range"] = _range(
            f"{low:.{decimals}f}", f"{high:.{decimals}f}", symbol
        )
        words = _(
            "%(typed)s; others of the class have %(range)s. Did the gauge show "
            "%(meant)s?"
        )
        return words % filled_in
    told = [_beside(one, odd, decimals) for one in odd.beside]
    told += [
        _("“%(name)s” has this value") % {"name": one.name} for one in odd.elsewhere
    ]
    filled_in["known"] = ", ".join(told)
    return _("%(typed)s; %(known)s. Is it right?") % filled_in


def _beside(known: Known, odd: Strange, decimals: int) -> str:
    filled_in = {
        "name": known.name,
        "value": format_value(known.value, decimals=decimals, unit=odd.unit),
    }
    return str(_BESIDE[known.of]) % filled_in


def _range(low: str, high: str, symbol: str) -> str:
    filled_in = {"low": low, "high": high, "unit": symbol}
    return (_("%(low)s to %(high)s %(unit)s") % filled_in).rstrip()
