"""The rulebooks that come with the program, and taking one as one's own."""

import re

import pytest
from django.test import Client

from inspection.actions.exchange import import_edition
from inspection.actions.rulebooks import publish_edition
from inspection.files.rulebooks import read_rulebook, write_rulebook
from inspection.files.starting_rulebooks import (
    StartingBook,
    classes_of,
    read_starting_book,
)
from inspection.loaders.rulebooks.shelf import contradictions_of
from inspection.models import Edition, RaceClass
from inventory.compute.roles import Role
from tests import builders

BOOKS = list(StartingBook)


@pytest.fixture
def chief() -> Client:
    client = Client()
    client.force_login(builders.make_person(Role.CHIEF_SCRUTINEER))
    return client


@pytest.mark.parametrize("book", BOOKS)
def test_each_sentence_names_its_own_limits(book: StartingBook) -> None:
    """Read with the eye of an owner: the numbers of the sentence are the rule's."""
    for rule in read_starting_book(book).rules:
        limits = (rule.lower, rule.upper, rule.lower_after, rule.upper_after)
        told = {float(word) for word in re.findall(r"\d+(?:\.\d+)?", rule.sentence)}
        held = {abs(one) / 1_000_000 for one in limits if one is not None}
        if rule.lower is not None and rule.upper is not None:
            assert rule.lower <= rule.upper
        # What a car may shed on the track need not stand in every sentence.
        after = {one / 1_000_000 for one in limits[2:] if one is not None}
        assert told <= held
        assert held - after <= told


def test_four_differ_in_length_and_stand_in_that_order() -> None:
    counts = [len(read_starting_book(book).rules) for book in BOOKS]
    assert len(BOOKS) == 4
    assert counts[0] == min(counts)
    names = [name for book in BOOKS for name in classes_of(read_starting_book(book))]
    assert len(names) == len(set(names)) == 5


@pytest.mark.parametrize("book", BOOKS)
def test_file_is_as_the_program_writes_it_back(book: StartingBook) -> None:
    text = read_starting_book(book)
    assert read_rulebook(write_rulebook(text)) == text


@pytest.mark.django_db
@pytest.mark.parametrize("book", BOOKS)
def test_each_contradicts_nothing_and_is_published_in_an_empty_club(
    book: StartingBook,
) -> None:
    text = read_starting_book(book)
    draft = import_edition(text, adds_classes=True, act=builders.act())
    assert not contradictions_of(draft, text)
    edition = publish_edition(draft.pk, act=builders.act())
    assert edition.is_published
    classes = RaceClass.objects.filter(rulebook=edition.rulebook)
    assert {one.name for one in classes} == set(classes_of(text))


@pytest.mark.django_db
def test_one_is_taken_under_the_clubs_own_names(chief: Client) -> None:
    listed = chief.get("/rulebooks/start").content.decode()
    assert all(f"/rulebooks/start/{book}" in listed for book in BOOKS)
    address = "/rulebooks/start/two_classes"
    assert "Long-distance cars" in chief.get(address).content.decode()
    typed = {"name": "Hall rules", "class_0": "Tinies", "class_1": "Biggies"}
    made = chief.post(address, typed)
    edition = Edition.objects.get()
    assert made["Location"] == f"/rulebooks/edition/{edition.pk}"
    assert not edition.is_published
    assert edition.rulebook.name == "Hall rules"
    assert {one.name for one in RaceClass.objects.all()} == {"Tinies", "Biggies"}
    assert edition.rules.count() == len(read_starting_book(BOOKS[3]).rules)
    assert chief.get(made["Location"]).status_code == 200


@pytest.mark.django_db
def test_names_that_are_taken_are_said_beside_their_fields(chief: Client) -> None:
    builders.make_class("Tinies")
    address = "/rulebooks/start/two_classes"
    typed = {"name": "Club rules", "class_0": "Tinies", "class_1": "Biggies"}
    page = chief.post(address, typed)
    assert page.status_code == 422
    words = page.content.decode()
    assert "A rulebook is already called “Club rules”" in words
    assert "A class is already called “Tinies”" in words
    assert 'value="Biggies"' in words
    twice = chief.post(address, typed | {"name": "New", "class_0": "Biggies"})
    assert len(twice.context["form"].errors) == 2
    assert "“Biggies” stands twice." in twice.content.decode()
    assert not Edition.objects.exists()


@pytest.mark.django_db
def test_book_that_does_not_come_with_it_is_not_there(chief: Client) -> None:
    assert chief.get("/rulebooks/start/nonsense").status_code == 404
