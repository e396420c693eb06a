"""
Whether a reading is asked about before it is written: one function for all of them.

At the block, at the caliper bench of a batch, for parts and for masters.  Nothing is
corrected: what is odd about a reading is asked, in the words of
`inventory/words/strange.py`, and a person answers.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from inventory.compute.numbers.kin import Kin, slip_among_kin
from inventory.compute.numbers.suspects import differs_from_last, slip_of_the_decimal
from inventory.compute.numbers.units import Unit

#: What wear and adjustment may change, and what the form of a tyre may spread over,
#: in millimetres.  Common practice, no source.
ALLOWANCE_MM = 0.3


class Oddity(StrEnum):
    """What is odd about a reading."""

    OUTSIDE = "outside what it can be"
    UNLIKE = "unlike all that is known of it"
    SPREAD = "too far from the readings beside it"
    SLIP = "a decimal off what all others have"


class KnownOf(StrEnum):
    """What a value is known of."""

    LAST_READING = "last reading"
    FITTED_PART = "fitted part"
    OTHER_SIDE = "other side"
    OTHER_PLACE = "other place"
    ANOTHER_READING = "another reading"
    ANOTHER_OF_TYRE = "another reading of this tyre"
    MASTER = "master"


@dataclass(frozen=True, kw_only=True)
class Known:
    """
    A value that a reading may be held against.

    Attributes
    ----------
    of : KnownOf
        What it is known of.
    value : float
        In the reading's unit.
    standard_uncertainty : float, optional
        Of the value.
    name : str, optional
        Which of these, as people call it: the tag of a part, the name of a place.
    """

    of: KnownOf
    value: float
    standard_uncertainty: float = 0.0
    name: str = ""


@dataclass(frozen=True, kw_only=True)
class Strange:
    """
    A reading that is asked about.

    Attributes
    ----------
    oddity : Oddity
        What is odd about it.
    unit : Unit
        Of the reading.
    plausible : tuple of float, optional
        What it can be, where it is outside.
    meant : float, optional
        What it was meant to be, if it is a slip of the decimal.
    beside : tuple of Known
        What it is unlike; of a spread, the reading that it is furthest from.
    elsewhere : tuple of Known
        What has this value: where it may have been read.
    kin : Kin, optional
        What like things have, where it is a slip among them.
    """

    oddity: Oddity
    unit: Unit
    plausible: tuple[float, float] | None = None
    meant: float | None = None
    beside: tuple[Known, ...] = ()
    elsewhere: tuple[Known, ...] = ()
    kin: Kin | None = None

    def meant_text(self, decimals: int = 2) -> str:
        """Give what it was meant to be as it is typed; nothing where nobody knows."""
        return "" if self.meant is None else f"{self.meant:.{decimals}f}"


def find_strange(
    value: float,
    *,
    unit: Unit = Unit.MILLIMETRE,
    plausible: tuple[float, float] | None = None,
    beside: Sequence[Known] = (),
    elsewhere: Iterable[Known] = (),
    kin: Kin | None = None,
) -> Strange | None:
    """
    Tell what is odd about a reading, if anything is.

    Parameters
    ----------
    value : float
        Reading as it was taken.
    unit : Unit, optional
        Of all values.
    plausible : tuple of float, optional
        Least and greatest that it can be, both inside.
    beside : sequence of Known, optional
        What is known of the same thing; lengths that differ from each of them by
        more than 5u and 0.3 mm are asked about.
    elsewhere : iterable of Known, optional
        What is known of like things, to say where such a reading may be from.
    kin : Kin, optional
        How like things spread: a slip of the decimal among them is asked about, unless
        what is known of this very thing bears it out.

    Returns
    -------
    Strange or None

    Examples
    --------
    >>> find_strange(1234.0, plausible=(8.0, 32.0)).meant
    12.34
    >>> other = Known(of=KnownOf.OTHER_SIDE, value=19.02)
    >>> find_strange(19.01, beside=[other])
    """
    if plausible is not None and not plausible[0] <= round(value, 6) <= plausible[1]:
        low, high = plausible
        return Strange(
            oddity=Oddity.OUTSIDE,
            unit=unit,
            plausible=plausible,
            meant=slip_of_the_decimal(value, low=low, high=high, unit=unit),
        )
    is_borne_out = any(not _is_far(value, one) for one in beside)
    if kin is not None and plausible is not None and not is_borne_out:
        low, high = plausible
        meant = slip_among_kin(value, kin, low=low, high=high)
        if meant is not None:
            return Strange(oddity=Oddity.SLIP, unit=unit, meant=meant, kin=kin)
    if not beside or unit is not Unit.MILLIMETRE:
        return None
    if not all(_is_far(value, one) for one in beside):
        return None
    return Strange(
        oddity=Oddity.UNLIKE,
        unit=unit,
        beside=tuple(beside),
        elsewhere=tuple(one for one in elsewhere if not _is_far(value, one, 0.05)),
    )


def find_strange_in(
    values: Sequence[float],
    *,
    unit: Unit = Unit.MILLIMETRE,
    plausible: tuple[float, float] | None = None,
    of: KnownOf = KnownOf.ANOTHER_READING,
) -> dict[int, Strange]:
    """
    Tell which of several readings of one thing are odd, each alone and together.

    Parameters
    ----------
    values : sequence of float
        Readings as they were taken.
    unit, plausible
        As of `find_strange`.
    of : KnownOf, optional
        What they are of.

    Returns
    -------
    dict of int to Strange
        By place among the values; of a spread too wide, the reading furthest from
        the middle one.

    Examples
    --------
    >>> odd = find_strange_in([20.01, 20.61, 20.02], plausible=(8.0, 32.0))
    >>> [(place, one.oddity, one.beside[0].value) for place, one in odd.items()]
    [(1, <Oddity.SPREAD: 'too far from the readings beside it'>, 20.01)]
    """
    odd = {
        place: one
        for place, value in enumerate(values)
        if (one := find_strange(value, unit=unit, plausible=plausible)) is not None
    }
    if odd or unit is not Unit.MILLIMETRE or not values:
        return odd
    if round(max(values) - min(values), 6) <= ALLOWANCE_MM:
        return odd
    gaps = np.abs(np.subtract(values, np.median(values)))
    # Of two alike the later one: the first was taken before there was any doubt.
    place = len(values) - 1 - int(np.argmax(np.round(gaps, 6)[::-1]))
    furthest = max(values, key=lambda other: abs(other - values[place]))
    other = Known(of=of, value=furthest)
    return {place: Strange(oddity=Oddity.SPREAD, unit=unit, beside=(other,))}


def _is_far(value: float, known: Known, allowance: float = ALLOWANCE_MM) -> bool:
    return differs_from_last(
        value,
        last=known.value,
        standard_uncertainty=known.standard_uncertainty,
        allowance=allowance,
    )
