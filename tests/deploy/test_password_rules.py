"""Which passwords are refused, and for which reason (S6)."""

from pathlib import Path

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ImproperlyConfigured, ValidationError

from deploy.signing_in import password_rules
from deploy.signing_in.password_rules import common_digests, digest, packed
from inventory.models import Person

ROSA = Person(sign_in_name="rosa.ivey", name="Rosalind Ivey")

# Those of the list: read off it by eye, all among the most used anywhere.
COMMON = [
    "1234567890123",
    "123456789012",
    "123456789123",
    "qwertyuiop123",
    "password1234",
    "passwordpassword",
    "PasswordPassword",
    "111111111111",
    "000000000000",
    "aaaaaaaaaaaa",
    "abcdefghijkl",
    "1q2w3e4r5t6y7u",
]
SHORT = ["", "x", "short", "elevenchars", "12345678901", "ключ ключ к"]
OWN = [
    "feelerbookfeelerbook",
    "Feelerbook-2026!",
    "scrutineer scrutineer",
    "Slotcar Rulebook 1",
    "RaceNight RaceNight",
    "racenight.slotcar.7",
]
PERSON = ["rosalind.ivey", "RosalindIvey1", "rosa.ivey.rosa.ivey", "ivey-rosalind-7"]
GOOD = [
    "four quiet wheels turn",
    "the scrutineer drinks cold tea",
    "a slotcar on a rainy table",
    "kfj29-fjw8x-qqpz4",
    "x" * 5 + "y" * 5 + "zq9!",
    "correct horse battery staple gun",
    "   leading spaces count   ",
    "тихий ключ от мастерской",
    "静かな四つの車輪が回ります",
    "🏁 four 🏁 quiet 🏁 wheels",
    "ALL CAPITALS AND LONG",
    "nineteensixtynineish",
    "q" * 40 + "7" * 90,
]


def codes(password: str) -> set[str]:
    try:
        validate_password(password, ROSA)
    except ValidationError as error:
        return {reason.code or "" for reason in error.error_list}
    return set()


@pytest.mark.parametrize("password", SHORT)
def test_short_password_is_refused(password: str) -> None:
    assert "password_too_short" in codes(password)


@pytest.mark.parametrize("password", COMMON)
def test_common_password_is_refused(password: str) -> None:
    assert "password_common" in codes(password)


@pytest.mark.parametrize("password", OWN)
def test_words_of_the_trade_are_refused(password: str) -> None:
    assert "password_own_words" in codes(password)


@pytest.mark.parametrize("password", PERSON)
def test_the_persons_own_name_is_refused(password: str) -> None:
    assert codes(password) & {"password_own_words", "password_too_similar"}


@pytest.mark.parametrize("password", GOOD)
def test_long_uncommon_password_of_any_shape_is_admitted(password: str) -> None:
    assert codes(password) == set()


def test_the_list_has_three_thousand_that_fit_the_policy() -> None:
    assert len(common_digests()) >= 3000


def test_a_list_is_packed_small_letters_once_each_and_long_ones_only() -> None:
    words = ["Password12345", "password12345", "short", "123456789012"]
    content = packed(words)
    assert content == b"".join(sorted({digest(words[0]), digest(words[3])}))


def test_a_list_too_short_stops_the_service(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    short = tmp_path / "list.bin"
    short.write_bytes(packed(["123456789012"]))
    monkeypatch.setattr(password_rules, "LIST", short)
    with pytest.raises(ImproperlyConfigured, match="1 passwords, fewer than 3000"):
        common_digests.__wrapped__()


def test_each_rule_says_what_it_wants() -> None:
    for rule in (
        password_rules.CommonPasswordValidator(),
        password_rules.OwnWordsValidator(),
    ):
        assert rule.get_help_text().startswith("It must ")
