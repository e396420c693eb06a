"""The commands that check and load a rulebook's file."""

import hashlib
import json
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from deploy.demo.rulebooks import FOLDER, PROTOTYPES, RULEBOOK, SALOONS
from inspection.actions.rulebooks import add_race_class
from inspection.models import Edition, RaceClass, Rule, Rulebook
from inventory.compute.roles import Role
from tests.builders import act, make_person

BOOK: dict[str, Any] = {
    "format": "feelerbook rulebook 1",
    "rulebook": "Rules of a test",
    "edition": 1,
    "decision_rule": "simple acceptance",
    "rules": [
        {
            "number": "1",
            "sentence": "The car weighs 80 g or more.",
            "quantity": "weight_car",
            "unit": "g",
            "lower": "80",
        },
        {
            "number": "2",
            "sentence": "The lights work.",
            "quantity": "lights_work",
            "unit": "1",
            "required": "yes",
        },
    ],
}


def write(folder: Path, book: dict[str, Any]) -> Path:
    file = folder / "rules.json"
    file.write_text(json.dumps(book), encoding="utf-8")
    return file


def changed(place: int, **values: object) -> dict[str, Any]:
    rules = [dict(rule) for rule in BOOK["rules"]]
    rules[place] |= values
    return {**BOOK, "rules": rules}


def run(command: str, *words: object, **options: object) -> str:
    out = StringIO()
    call_command(command, *words, stdout=out, **options)
    return out.getvalue()


def make_chief() -> str:
    return make_person(Role.CHIEF_SCRUTINEER).sign_in_name


# --- check -------------------------------------------------------------------


def test_check_says_what_a_good_file_holds(tmp_path: Path) -> None:
    said = run("check_rulebook", write(tmp_path, BOOK))
    assert "Rules of a test, edition 1: 2 rules, simple acceptance" in said
    # RFC 8785 by hand: keys sorted, no blanks, and every default written out.
    rules = [
        {
            **rule,
            "force": "mandatory",
            "stage": "both",
            "evidence": "either",
        }
        for rule in BOOK["rules"]
    ]
    canonical = json.dumps(
        {**BOOK, "confidence": "0.95", "note": "", "rules": rules},
        sort_keys=True,
        separators=(",", ":"),
    )
    assert hashlib.sha256(canonical.encode()).hexdigest() in said


@pytest.mark.parametrize("number", [1, 2])
def test_check_finds_the_editions_of_the_demo_good(number: int) -> None:
    said = run("check_rulebook", FOLDER / f"edition_{number}.json")
    assert f"edition {number}" in said


@pytest.mark.parametrize(
    ("book", "place"),
    [
        (changed(0, lower="a hundred"), "/rules/0/lower"),
        (changed(0, lower=80), "/rules/0/lower"),
        (changed(0, unit="mm"), "/rules/0/unit"),
        (changed(1, quantity="loudness"), "/rules/1/quantity"),
        (changed(1, number="1"), "/rules/1/number"),
        (changed(1, colour="red"), "/rules/1/colour"),
        ({**BOOK, "decision_rule": "as we like"}, "/decision_rule"),
        ({**BOOK, "rules": []}, "/rules"),
    ],
)
def test_check_names_the_place_that_is_wrong(
    tmp_path: Path, book: dict[str, Any], place: str
) -> None:
    file = write(tmp_path, book)
    with pytest.raises(CommandError) as refusal:
        run("check_rulebook", file)
    assert str(refusal.value).startswith(f"{file}: {place}: ")
    assert refusal.value.returncode != 0


def test_check_says_that_there_is_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="No such file"):
        run("check_rulebook", tmp_path / "nothing.json")


def test_check_does_not_read_a_file_without_end(tmp_path: Path) -> None:
    file = tmp_path / "large.json"
    file.write_bytes(b" " * 2_000_001)
    with pytest.raises(CommandError, match="at most"):
        run("check_rulebook", file)


# --- load --------------------------------------------------------------------


@pytest.mark.django_db
def test_load_makes_a_draft(tmp_path: Path) -> None:
    said = run("load_rulebook", write(tmp_path, BOOK), by=make_chief())
    edition = Edition.objects.get()
    assert not edition.is_published
    assert "draft" in said
    limits = list(edition.rules.values_list("number", "lower", "required"))
    assert limits == [("1", 80_000_000, ""), ("2", None, "yes")]


@pytest.mark.django_db
def test_load_publishes_when_told_to(tmp_path: Path) -> None:
    chief = make_chief()
    said = run("load_rulebook", write(tmp_path, BOOK), by=chief, publish=True)
    edition = Edition.objects.get()
    assert edition.is_published
    assert edition.published_by is not None
    assert edition.published_by.sign_in_name == chief
    assert edition.sha256 in said
    assert edition.sha256 in run("check_rulebook", tmp_path / "rules.json")


@pytest.mark.django_db
def test_load_of_the_demo_keeps_the_checksum_of_its_file() -> None:
    for name in (SALOONS, PROTOTYPES):
        add_race_class(name, rulebook_name=RULEBOOK, act=act())
    file = FOLDER / "edition_2.json"
    run("load_rulebook", file, by=make_chief(), publish=True)
    assert Edition.objects.get().sha256 in run("check_rulebook", file)


@pytest.mark.django_db
@pytest.mark.parametrize("role", [Role.MEMBER, Role.SCRUTINEER, Role.ADMIN])
def test_load_by_anyone_but_a_chief_is_refused(tmp_path: Path, role: Role) -> None:
    name = make_person(role).sign_in_name
    with pytest.raises(CommandError, match="chief scrutineer"):
        run("load_rulebook", write(tmp_path, BOOK), by=name)
    with pytest.raises(CommandError, match="chief scrutineer"):
        run("load_rulebook", write(tmp_path, BOOK), by="nobody")
    assert not Edition.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("book", "said"),
    [
        (changed(0, classes=["No such class"]), "No such class"),
        (changed(0, lower="a hundred"), "/rules/0/lower"),
    ],
)
def test_load_that_is_refused_writes_nothing(
    tmp_path: Path, book: dict[str, Any], said: str
) -> None:
    with pytest.raises(CommandError, match=said):
        run("load_rulebook", write(tmp_path, book), by=make_chief())
    assert not Rulebook.objects.exists()
    assert not Rule.objects.exists()


@pytest.mark.django_db
def test_load_of_a_taken_edition_is_refused(tmp_path: Path) -> None:
    chief, file = make_chief(), write(tmp_path, BOOK)
    run("load_rulebook", file, by=chief)
    with pytest.raises(CommandError, match="edition 1 is here already"):
        run("load_rulebook", file, by=chief)
    assert Edition.objects.count() == 1


@pytest.mark.django_db
def test_load_adds_the_classes_that_are_lacking_where_that_is_said(
    tmp_path: Path,
) -> None:
    book = changed(0, classes=["No such class"])
    run("load_rulebook", write(tmp_path, book), by=make_chief(), add_classes=True)
    added = RaceClass.objects.get(name="No such class")
    assert added.rulebook.name == "Rules of a test"
