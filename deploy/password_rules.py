"""Passwords that are refused: common ones, and words of the club's own trade."""

import gzip
from functools import cache
from pathlib import Path

from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy as _

LIST = Path(__file__).with_name("common_passwords.txt.gz")
OWN_WORDS = frozenset({"feelerbook", "scrutineer", "slotcar", "rulebook"})


@cache
def common_passwords() -> frozenset[str]:
    """Return the list, small letters, each of at least twelve characters."""
    with gzip.open(LIST, "rt", encoding="utf-8") as file:
        return frozenset(line.rstrip("\n") for line in file)


class CommonPasswordValidator:
    """Refuse what is on the offline list."""

    def validate(self, password: str, user: object = None) -> None:
        if password.casefold() in common_passwords():
            raise ValidationError(
                _("This password is one of the most common."), code="password_common"
            )

    def get_help_text(self) -> str:
        return gettext("Not one of the passwords that many people use.")


class OwnWordsValidator:
    """Refuse what is little more than a word of the trade or the person's name."""

    def validate(self, password: str, user: object = None) -> None:
        said = "".join(filter(str.isalpha, password.casefold()))
        if any(said == word * (len(said) // len(word)) for word in OWN_WORDS):
            raise ValidationError(
                _("This password is a word everyone at the club would try."),
                code="password_own_word",
            )

    def get_help_text(self) -> str:
        return gettext("Not just a word of the trade.")
