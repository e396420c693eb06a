"""The schema that ships: a valid one, up to date, and of one mind with the reader."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from deploy import demo
from inspection.compute.quantities.registry import QUANTITIES
from inspection.files.rulebook_schema import SCHEMA_FILE, schema_text
from inspection.files.rulebooks import (
    FORMAT,
    RulebookFileError,
    read_rulebook,
    write_rulebook,
)

SCHEMA: dict[str, Any] = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))
VALIDATOR = Draft202012Validator(SCHEMA)
SHIPPED = sorted(Path(demo.__file__).parent.glob("edition_*.json"))


def is_valid(book: object) -> bool:
    return bool(VALIDATOR.is_valid(book))


def is_read(book: object) -> bool:
    try:
        read_rulebook(json.dumps(book).encode())
    except RulebookFileError:
        return False
    return True


def test_schema_is_one_itself() -> None:
    assert SCHEMA["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    Draft202012Validator.check_schema(SCHEMA)


def test_shipped_schema_says_what_the_registry_says() -> None:
    """Else: ``python -m inspection.files.rulebook_schema`` writes it again."""
    assert SCHEMA_FILE.read_text(encoding="utf-8") == schema_text()


@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.name)
def test_shipped_rulebook_is_valid_and_so_is_its_canonical_form(file: Path) -> None:
    content = file.read_bytes()
    assert is_valid(json.loads(content))
    assert is_valid(json.loads(write_rulebook(read_rulebook(content))))


def test_there_are_shipped_rulebooks() -> None:
    assert SHIPPED


TEXTS = st.sampled_from(["1", "Sealed.", " ", "", "x" * 301, "a\x00b", 7, None])
NUMBERS = st.sampled_from(
    ["80", "-0.25", "0.000001", "0.0000001", "1e3", "080", " 1", "NaN", "", 80, None]
)
WORDS = st.sampled_from(
    ["mandatory", "advisory", "before", "both", "either", "taken only", "yes", "hard"]
)
CONDITIONS = st.sampled_from(
    [
        {"quantity": "layout", "word": "in-line"},
        {"quantity": "layout", "word": "guide"},
        {"quantity": "front_carrier", "word": "guide"},
        {"quantity": "weight_car", "word": "in-line"},
        {"quantity": "layout"},
        {"quantity": "layout", "word": "in-line", "more": 1},
        "in-line",
    ]
)


@st.composite
def rules(draw: st.DrawFn) -> Any:
    """Draw a rule, sound or spoilt in a place or two; never two limits to cross."""
    key = draw(st.sampled_from(["weight_car", "twist", "teeth_gear", "motor_sealed"]))
    said: dict[str, Any] = {
        "number": "1",
        "sentence": "A rule.",
        "quantity": key,
        "unit": QUANTITIES[key].unit.value,
    }
    said |= {"required": "yes"} if key == "motor_sealed" else {"lower": "1"}
    spoilt = {
        "number": TEXTS,
        "sentence": TEXTS,
        "quantity": st.sampled_from(["weight_body", "layout", "colour", 1]),
        "unit": st.sampled_from(["g", "mm", "1", "kg", None]),
        "lower": NUMBERS,
        "required": WORDS,
        "force": WORDS,
        "stage": WORDS,
        "evidence": WORDS,
        "classes": st.sampled_from([[], ["A"], ["A", "A"], ["A", "B"], [" "], "A"]),
        "condition": CONDITIONS,
        "colour": st.just("red"),
    }
    for name in draw(st.lists(st.sampled_from(sorted(spoilt)), max_size=2)):
        said[name] = draw(spoilt[name])
    for name in draw(st.lists(st.sampled_from(sorted(said)), max_size=1)):
        del said[name]
    return said


@settings(max_examples=400)
@given(rules())
def test_schema_and_reader_agree_on_a_rule(rule: dict[str, Any]) -> None:
    book = {
        "format": FORMAT,
        "rulebook": "Hall rules",
        "edition": 1,
        "decision_rule": "simple acceptance",
        "rules": [rule],
    }
    assert is_valid(book) == is_read(book)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("format", "feelerbook rulebook 2"),
        ("rulebook", ""),
        ("rulebook", "x" * 81),
        ("edition", 0),
        ("edition", 32_768),
        ("edition", "1"),
        ("edition", 32_767),
        ("decision_rule", "fair"),
        ("decision_rule", "guarded rejection"),
        ("note", "one\ntwo"),
        ("note", "one\x1b"),
        ("rules", []),
        ("colour", "red"),
        *(
            ("confidence", text)
            for text in [
                "0.5",
                "0.50",
                "0.5001",
                "0.500100",
                "0.50001",
                "0.6",
                "0.95",
                "0.950000",
                "0.9500000",
                "0.95001",
                "0.9999",
                "1",
                "1.0",
                "-0.9",
                ".9",
                0.95,
            ]
        ),
    ],
)
def test_schema_and_reader_agree_on_an_edition(key: str, value: object) -> None:
    rule = {
        "number": "1",
        "sentence": "A rule.",
        "quantity": "weight_car",
        "unit": "g",
        "lower": "80",
    }
    book = {
        "format": FORMAT,
        "rulebook": "Hall rules",
        "edition": 1,
        "decision_rule": "simple acceptance",
        "rules": [rule],
        key: value,
    }
    assert is_valid(book) == is_read(book)
