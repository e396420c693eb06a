"""How a password is kept (S7)."""

import pytest
from argon2 import Type, extract_parameters
from django.conf import settings
from django.contrib.auth.hashers import (
    Argon2PasswordHasher,
    check_password,
    make_password,
)
from django.test import override_settings

from deploy.settings import base

real_hasher = override_settings(PASSWORD_HASHERS=base.PASSWORD_HASHERS)


@real_hasher
def test_hash_is_argon2id_of_19_to_46_mebibytes() -> None:
    encoded = make_password("four quiet wheels turn")
    found = extract_parameters(encoded.removeprefix("argon2"))
    assert found.type is Type.ID
    # OWASP's password storage sheet: at least 19 MiB, two passes, one lane.
    assert 19 * 1024 <= found.memory_cost <= 46 * 1024
    assert found.time_cost >= 2
    assert found.parallelism == 1


@real_hasher
def test_hash_with_other_figures_is_made_anew_at_sign_in() -> None:
    old = Argon2PasswordHasher().encode("four quiet wheels turn", "saltsaltsalt")
    renewed: list[str] = []
    assert check_password("four quiet wheels turn", old, renewed.append)
    assert renewed == ["four quiet wheels turn"]
    assert not check_password("another", old, renewed.append)


@pytest.mark.parametrize(
    "word", ["x" * 128, "ключ от тихой мастерской", "  spaced  in  "]
)
@real_hasher
def test_long_foreign_and_spaced_passwords_are_kept_whole(word: str) -> None:
    encoded = make_password(word)
    assert check_password(word, encoded)
    assert not check_password(word.strip()[:-1], encoded)


def test_an_installation_has_no_weaker_hasher() -> None:
    assert base.PASSWORD_HASHERS == ["deploy.signing_in.hashers.ModestArgon2Hasher"]
    assert base.PASSWORD_HASHERS[0] in settings.PASSWORD_HASHERS
