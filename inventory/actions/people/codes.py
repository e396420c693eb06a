"""Codes of addresses that are handed over: easy to type, kept as a hash."""

import hashlib
import secrets
from typing import Final

from inventory.compute.stock import ALPHABET

_GROUPS: Final = 4
_SIGNS_A_GROUP: Final = 4


def new_code() -> str:
    """Make a code of 16 signs in groups, about 79 bits of chance."""
    return "-".join(
        "".join(secrets.choice(ALPHABET.lower()) for _ in range(_SIGNS_A_GROUP))
        for _ in range(_GROUPS)
    )


def code_hash(code: str) -> str:
    """Give the hash by which a code is known, however it was typed."""
    plain = "".join(sign for sign in code.lower() if sign.isalnum())
    return hashlib.sha256(plain.encode()).hexdigest()
