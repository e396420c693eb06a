"""The parts of an address: what a key, a tag and a word look like."""

from typing import Final

from django.urls import register_converter
from django.urls.converters import UUIDConverter

_KEYS: Final = r"[1-9][0-9]{0,14}"
_TAGS: Final = r"[A-Za-z0-9-]{1,12}"
_IDS: Final = r"[0-9A-Fa-f]{8}-(?:[0-9A-Fa-f]{4}-){3}[0-9A-Fa-f]{12}"
_WORDS: Final = r"[a-z0-9-]{1,32}"


class KeyOfRow:
    """The number of a row."""

    regex = _KEYS

    def to_python(self, value: str) -> int:
        return int(value)

    def to_url(self, value: int) -> str:
        return str(value)


class TagOfThing:
    """The tag of a part, a pair or a car."""

    regex = _TAGS

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


class WordOfAddress(TagOfThing):
    """A word, or the number of a sheet."""

    regex = _WORDS


class IdOfDevice(UUIDConverter):
    """An id that a device has made, in capitals too (RFC 9562, 4)."""

    regex = _IDS


def register() -> None:
    """Let addresses be written with them."""
    register_converter(KeyOfRow, "key")
    register_converter(TagOfThing, "tag")
    register_converter(WordOfAddress, "word")
    register_converter(IdOfDevice, "id")
