"""What was sealed held against what stands in the tables, as plain JSON values."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

#: So far two computers may differ in the last digits of one and the same sum.
RELATIVE, ABSOLUTE = 1e-9, 1e-9
_LONGEST = 60


class Occasion(StrEnum):
    """Why the seals were checked."""

    CLOSING = "at closing"
    START = "at the start"
    DAILY = "daily"
    RESTORED = "after a restore"
    ASKED = "by hand"


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """Something that is not as it was sealed: of what, and what differs."""

    of: str
    says: str

    def __str__(self) -> str:
        return f"{self.of}: {self.says}"


def differing(
    sealed: Any, stored: Any, *, at: str = "", is_near_enough: bool = False
) -> Iterator[str]:
    """
    Name each place where two JSON values differ.

    Parameters
    ----------
    sealed, stored : JSON value
        What the seal says and what the tables say.
    at : str
        Where in the whole these two are.
    is_near_enough : bool, default False
        Whether a number that was worked out again may differ in its last digits.

    Yields
    ------
    str
        A sentence for each place.

    Examples
    --------
    >>> list(differing({"by": 3, "at": "x"}, {"by": 4, "at": "x"}))
    ['by is 3 in the seal, 4 in the tables']
    """
    if isinstance(sealed, dict) and isinstance(stored, dict):
        for key in [*sealed, *(key for key in stored if key not in sealed)]:
            place = f"{at} {key}".strip()
            yield from differing(
                sealed.get(key),
                stored.get(key),
                at=place,
                is_near_enough=is_near_enough,
            )
    elif isinstance(sealed, list) and isinstance(stored, list):
        if len(sealed) != len(stored):
            yield f"{at}: {len(sealed)} in the seal, {len(stored)} in the tables"
            return
        for number, (one, other) in enumerate(zip(sealed, stored, strict=True), 1):
            place = f"{at} {number}".strip()
            yield from differing(one, other, at=place, is_near_enough=is_near_enough)
    elif not (_is_near(sealed, stored) if is_near_enough else _is_same(sealed, stored)):
        yield f"{at} is {_short(sealed)} in the seal, {_short(stored)} in the tables"


def _is_same(sealed: Any, stored: Any) -> bool:
    if isinstance(sealed, bool) or isinstance(stored, bool):
        return sealed is stored
    return bool(sealed == stored)


def _is_near(sealed: Any, stored: Any) -> bool:
    numbers = isinstance(sealed, int | float) and isinstance(stored, int | float)
    if not numbers or (not isinstance(sealed, float) and not isinstance(stored, float)):
        return _is_same(sealed, stored)
    room = max(ABSOLUTE, RELATIVE * max(abs(sealed), abs(stored)))
    return bool(abs(sealed - stored) <= room)


def _short(value: Any) -> str:
    if value is None:
        return "nothing"
    text = f"“{value}”" if isinstance(value, str) else str(value)
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"
