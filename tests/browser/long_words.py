"""A made-up language, each sentence two fifths longer: what another might need."""

import re
import string
from gettext import NullTranslations
from typing import Final

import pytest
from django.conf import settings
from django.utils import translation
from django.utils.translation import trans_real

LONGER: Final = 1.4
#: What a translator leaves as it is: places, tags, entities, signs of a format.
_KEPT = re.compile(r"%\(\w+\)[a-z]|%[a-z%]|{[^}]*}|<[^>]*>|&\w+;|\b[A-Z_]{3,}\b")


def lengthen(message: str) -> str:
    """
    Make words longer, not more: a line breaks between words alone.

    Examples
    --------
    >>> lengthen("Measured on %(date)s")
    'Meeassurredd onn %(date)s'
    """
    kept = [*_KEPT.findall(message), ""]
    words = _KEPT.split(message)
    letters = max(1, sum(sign.isalpha() for text in words for sign in text))
    wanted = round((LONGER - 1) * sum(map(len, words)))
    found, seen = [], 0
    for text in words:
        longer = []
        for sign in text:
            # Spread evenly over the letters, so that no word grows alone.
            before = seen
            seen += sign.isalpha()
            more = seen * wanted // letters - before * wanted // letters
            longer.append(sign * (1 + more))
        found.append("".join(longer))
    return "".join(text + sign for text, sign in zip(found, kept, strict=True))


class LongWords(NullTranslations):
    """Translates into the longer language whatever is marked."""

    def gettext(self, message: str) -> str:
        return lengthen(message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return lengthen(msgid1 if n == 1 else msgid2)

    def to_language(self) -> str:
        return "en-gb"


def translate(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let this process translate, as where more than one language is served."""
    monkeypatch.setattr(settings, "USE_I18N", True)
    monkeypatch.setattr(translation, "_trans", trans_real)
    # A command that was called before may have left it without any language.
    translation.deactivate()


def speak_in_long_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let this process, and the service that it runs, speak the longer language."""
    translate(monkeypatch)
    monkeypatch.setattr(trans_real, "_default", LongWords())


class OtherLetters(NullTranslations):
    """Translates whatever is marked into letters that are not ours."""

    def gettext(self, message: str) -> str:
        return in_other_letters(message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return in_other_letters(msgid1 if n == 1 else msgid2)

    def to_language(self) -> str:
        # Another than ours, so that nothing is taken that was kept in ours.
        return "en-au"


def in_other_letters(message: str) -> str:
    """
    Write words in full-width letters: what is left in ours went through no mark.

    Examples
    --------
    >>> in_other_letters("on %(date)s")
    'ｏｎ %(date)s'
    """
    kept = [*_KEPT.findall(message), ""]
    others = (text.translate(_WIDE) for text in _KEPT.split(message))
    return "".join(text + sign for text, sign in zip(others, kept, strict=True))


_WIDE: Final = {
    ord(sign): ord(sign) - ord("!") + ord("！") for sign in string.ascii_letters
}


def speak_in_other_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let this thread speak in letters that are not ours."""
    translate(monkeypatch)
    monkeypatch.setattr(trans_real, "_default", OtherLetters())
    # What is kept of a language is kept by its name.
    monkeypatch.setattr(settings, "LANGUAGE_CODE", "en-au")


def left_in_ours(text: str) -> list[str]:
    """Give the words in our letters; “mm”, “g” and “%” are the same in any language."""
    return re.findall(r"[A-Za-z]{3,}", text)
