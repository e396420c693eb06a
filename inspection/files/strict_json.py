"""
JSON that is read strictly: what is wrong is named with its place.

The place is a JSON pointer (RFC 6901).  NaN and Infinity, a key that stands twice
in one object and half a surrogate pair are refused; all three are read by many
programs, each in a way of its own.
"""

import json
from typing import Any, ClassVar

from django.utils.translation import gettext as _

from inventory.compute.errors import ComputeError


class StrictJsonError(ComputeError):
    """A text is not JSON, or not one that means the same everywhere."""

    code: ClassVar[str] = "strict_json"

    def __init__(self, pointer: str, sentence: str) -> None:
        super().__init__(f"{pointer or '/'}: {sentence}")
        self.pointer, self.sentence = pointer, sentence


class _Odd:
    """Stands where something is that no file may say, until its place is known."""

    def __init__(self, sentence: str) -> None:
        self.sentence = sentence


def read_json(content: bytes) -> Any:
    """Read a JSON text; StrictJsonError names the place that is wrong."""
    try:
        value = json.loads(
            content.decode("utf-8-sig"),
            parse_constant=lambda name: _Odd(
                _("%(name)s is not a number.") % {"name": name}
            ),
            object_pairs_hook=_object,
        )
    except (ValueError, RecursionError) as error:
        # A number of more than 4,300 digits is a ValueError of its own kind.
        raise _odd(
            at="", sentence=_("this is not JSON: %(error)s") % {"error": error}
        ) from error
    _refuse_odd(value)
    return value


def pointer_to(at: str, key: str | int) -> str:
    """Give the pointer of a key or a place inside what another points at."""
    return f"{at}/{str(key).replace('~', '~0').replace('/', '~1')}"


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members: dict[str, Any] = {}
    for key, value in pairs:
        twice = key in members
        says = _("“%(key)s” stands twice in one object.") % {"key": key}
        members[key] = _Odd(says) if twice else value
    return members


def _refuse_odd(value: Any) -> None:
    left = [("", value)]
    while left:
        at, one = left.pop()
        if isinstance(one, _Odd):
            raise _odd(at=at, sentence=one.sentence)
        if isinstance(one, str):
            _refuse_half_pairs(one, at)
        elif isinstance(one, dict):
            for key in one:
                _refuse_half_pairs(key, at)
            left += [(pointer_to(at, k), v) for k, v in reversed(one.items())]
        elif isinstance(one, list):
            left += [(pointer_to(at, k), one[k]) for k in reversed(range(len(one)))]


def _refuse_half_pairs(text: str, at: str) -> None:
    if any("\ud800" <= sign <= "\udfff" for sign in text):
        raise _odd(at=at, sentence=_("half a surrogate pair is no text."))


def _odd(*, at: str, sentence: str) -> StrictJsonError:
    return StrictJsonError(at, sentence)
