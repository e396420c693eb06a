"""A search answers whatever is typed: as long as it may be, of as many words."""

import time
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from inventory.compute.roles import Role
from inventory.compute.searches import LONGEST_SEARCH, MOST_WORDS, words_of
from inventory.models import Person
from tests import builders
from tests.inventory import bags

pytestmark = pytest.mark.django_db

#: SQLite takes patterns of 50,000 bytes and joins of 64 tables (sqlite.org/limits).
TYPED = {
    "one long word": "x" * 60_000,
    "signs of patterns": "%_[*" * 15_000,
    "as many words as tables": "a " * 70,
    "words without an end": "ab " * 20_000,
    "a sign that PostgreSQL keeps nothing of": "\0",
}
WITHIN_S = 10


def test_the_first_words_are_looked_for() -> None:
    assert words_of(" soft  A1 ") == ["soft", "A1"]
    assert words_of("a " * 70) == ["a"] * MOST_WORDS
    assert words_of("x" * 60_000) == ["x" * LONGEST_SEARCH]
    assert words_of("") == []


@pytest.fixture
def everybody(client_of: Callable[[Person], Client]) -> Client:
    client = client_of(builders.make_person(*Role))
    client.raise_request_exception = False
    return client


@pytest.mark.parametrize("typed", TYPED.values(), ids=TYPED)
@pytest.mark.parametrize(
    "address", ["/pairs", "/drawers", "/lent", "/parts", "/people", "/find", "/cars"]
)
def test_a_list_is_searched_whatever_is_typed(
    everybody: Client, address: str, typed: str
) -> None:
    bags.take_rows([bags.row("18.42", tag="LOOSE1")])
    begun = time.monotonic()
    assert everybody.get(address, {"q": typed}).status_code < 500
    assert time.monotonic() - begun < WITHIN_S


@pytest.mark.parametrize("typed", TYPED.values(), ids=TYPED)
@pytest.mark.parametrize("field", ["pair", "chosen"])
def test_a_pair_is_chosen_whatever_is_typed(
    everybody: Client, field: str, typed: str
) -> None:
    car = builders.make_car()
    pair = reverse("inspection:pair_on", args=[car.tag, "rear"])
    part = reverse("inspection:place", args=[car.tag, "gear"])
    begun = time.monotonic()
    for address in (pair, part):
        said = {"pair": "a", "part": "a", field: typed}
        answer = everybody.post(address, said)
        # Of what was typed none is a tag: the list is shown, nothing is put on.
        assert answer.status_code in {200, 422}, (address, answer.status_code)
    assert time.monotonic() - begun < WITHIN_S
