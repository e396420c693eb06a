"""The rulebook file: read strictly, written canonically, refused by name and place."""

import hashlib
import json
from decimal import Decimal
from typing import Any

import pytest

from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.rulebooks.requirements import Answer, Evidence, Force, Stage
from inspection.files.rulebooks import (
    FORMAT,
    LARGEST_FILE,
    RulebookFileError,
    checksum,
    read_rulebook,
    write_rulebook,
)


def book(**changes: Any) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "rulebook": "Hall rules",
        "edition": 2,
        "decision_rule": "guarded rejection",
        "rules": [rule()],
    } | changes


def rule(**changes: Any) -> dict[str, Any]:
    said = {
        "number": "1.1",
        "sentence": "The car weighs at least 80 g.",
        "quantity": "weight_car",
        "unit": "g",
        "lower": "80",
    } | changes
    return {key: value for key, value in said.items() if value is not None}


def as_bytes(value: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False).encode()


FULL = book(
    confidence="0.9",
    note="Für die Halle",
    rules=[
        rule(lower_after="79.5", classes=["Saloon"], force="advisory"),
        rule(
            number="1.2",
            quantity="motor_axle_offset",
            unit="mm",
            lower="-0.25",
            upper="0.25",
            condition={"quantity": "layout", "word": "in-line"},
            stage="before",
            evidence="taken only",
        ),
        rule(
            number="2",
            quantity="motor_sealed",
            unit="1",
            lower=None,
            required="yes",
        ),
    ],
)


def test_file_is_read_into_what_it_says() -> None:
    text = read_rulebook(as_bytes(FULL))
    assert text.rulebook == "Hall rules"
    assert text.decision_rule is DecisionRule.GUARDED_REJECTION
    assert text.confidence == Decimal("0.9")
    first, second, third = text.rules
    assert (first.lower, first.lower_after) == (80_000_000, 79_500_000)
    assert (first.force, first.classes) == (Force.ADVISORY, ("Saloon",))
    assert (second.lower, second.upper) == (-250_000, 250_000)
    assert (second.condition_key, second.condition_word) == ("layout", "in-line")
    assert (second.stage, second.evidence) == (Stage.BEFORE, Evidence.TAKEN_ONLY)
    assert third.required is Answer.YES


def test_written_file_is_read_back_and_written_the_same() -> None:
    once = write_rulebook(read_rulebook(as_bytes(FULL)))
    assert write_rulebook(read_rulebook(once)) == once
    assert checksum(read_rulebook(once)) == hashlib.sha256(once).hexdigest()


def test_written_file_is_canonical() -> None:
    """RFC 8785: keys sorted, no blank, UTF-8 as it is."""
    written = write_rulebook(read_rulebook(as_bytes(FULL)))
    again = json.dumps(
        json.loads(written), sort_keys=True, separators=(",", ":"), ensure_ascii=False
    )
    assert written == again.encode()


def test_one_changed_digit_changes_the_checksum() -> None:
    one = read_rulebook(as_bytes(book()))
    other = read_rulebook(as_bytes(book(rules=[rule(lower="80.000001")])))
    assert checksum(one) != checksum(other)


def test_classes_are_written_in_one_order() -> None:
    one = read_rulebook(as_bytes(book(rules=[rule(classes=["B", "A"])])))
    other = read_rulebook(as_bytes(book(rules=[rule(classes=["A", "B"])])))
    assert checksum(one) == checksum(other)


def test_note_may_have_lines() -> None:
    assert read_rulebook(as_bytes(book(note="one\ntwo"))).note == "one\ntwo"


def test_byte_order_mark_is_read_over() -> None:
    assert read_rulebook(b"\xef\xbb\xbf" + as_bytes(book())).edition == 2


@pytest.mark.parametrize(
    ("content", "pointer", "word"),
    [
        (b"", "", "not JSON"),
        (b"\xff\xfe", "", "not JSON"),
        (b"[" * 100_000, "", "not JSON"),
        (b"[]", "", "object"),
        (b" " * (LARGEST_FILE + 1), "", "at most"),
        (as_bytes(book(format="x")), "/format", "“x”"),
        (as_bytes(book(colour="red")), "/colour", "“colour”"),
        (as_bytes(book(rulebook="")), "/rulebook", "text"),
        (as_bytes(book(rulebook="x" * 81)), "/rulebook", "81 characters"),
        (as_bytes(book(edition=0)), "/edition", "“0”"),
        (as_bytes(book(edition=True)), "/edition", "“True”"),
        (as_bytes(book(edition="2")), "/edition", "“2”"),
        (as_bytes(book(decision_rule="fair")), "/decision_rule", "“fair”"),
        (as_bytes(book(confidence="0.5")), "/confidence", "0.5"),
        (as_bytes(book(confidence=0.95)), "/confidence", "as text"),
        (as_bytes(book(confidence="0.95001")), "/confidence", "0.95001"),
        (as_bytes(book(rules=[])), "/rules", "at least one"),
        (as_bytes(book(rules=["x"])), "/rules/0", "object"),
        (as_bytes(book(edition=10**6)), "/edition", "32767"),
        (as_bytes(book(edition=2.0)), "/edition", "“2.0”"),
        (b'{"edition": ' + b"9" * 5000 + b"}", "", "not JSON"),
        (as_bytes(book(confidence="x" * 1000)), "/confidence", "…"),
        (as_bytes(book(**{"a/b~": 1})), "/a~1b~0", "“a/b~”"),
        (b'{"format": NaN}', "/format", "NaN"),
        (b'{"rules": [{"lower": "1"}, {"lower": -Infinity}]}', "/rules/1/lower", "Inf"),
        (b'{"format": 1, "format": 2}', "/format", "twice"),
        (b'{"rules": [{"unit": "g", "unit": "g"}]}', "/rules/0/unit", "twice"),
        (b'{"note": "\\ud800"}', "/note", "surrogate"),
        (b'{"\\udc00": ""}', "", "surrogate"),
        (as_bytes(book(rulebook="Hall\x00")), "/rulebook", "U+0000"),
        (as_bytes(book(rulebook="Hall\nrules")), "/rulebook", "U+000A"),
        (as_bytes(book(note="one\ntwo\x1b")), "/note", "U+001B"),
        (as_bytes(book(note="x" * 4001)), "/note", "4001 characters"),
    ],
)
def test_file_that_is_wrong_is_refused_by_place(
    content: bytes, pointer: str, word: str
) -> None:
    with pytest.raises(RulebookFileError) as refusal:
        read_rulebook(content)
    assert refusal.value.pointer == pointer
    assert word in refusal.value.sentence


@pytest.mark.parametrize(
    ("changes", "key", "word"),
    [
        ({"quantity": "colour"}, "/quantity", "“colour”"),
        ({"quantity": "layout"}, "/quantity", "declared"),
        ({"unit": "mm"}, "/unit", "“mm”"),
        ({"unit": None}, "/unit", "None"),
        ({"limit": "1"}, "/limit", "“limit”"),
        ({"lower": "a"}, "/lower", "“a”"),
        ({"lower": "NaN"}, "/lower", "“NaN”"),
        ({"lower": 80}, "/lower", "as text"),
        ({"lower": "0.0000001"}, "/lower", "six places"),
        ({"lower": "1e12"}, "/lower", "six places"),
        ({"lower": "1e999999999"}, "/lower", "not a number"),
        ({"lower": " 80"}, "/lower", "not a number"),
        ({"lower": "8_0"}, "/lower", "not a number"),
        ({"lower": "٨٠"}, "/lower", "not a number"),
        ({"lower": "1000000000"}, "/lower", "nine digits"),
        ({"upper": "90", "upper_after": "79"}, "/upper_after", "above"),
        ({"upper": "90", "lower_after": "91"}, "/lower_after", "above"),
        ({"upper": "79"}, "/lower", "above"),
        ({"lower": None}, "", "lower or an upper"),
        ({"required": "yes"}, "/required", "limit"),
        ({"quantity": "motor_sealed", "unit": "1"}, "/required", "looked at"),
        ({"force": "hard"}, "/force", "“hard”"),
        ({"classes": "Saloon"}, "/classes", "list"),
        ({"classes": ["A", "A"]}, "/classes", "twice"),
        ({"classes": ["A", " "]}, "/classes/1", "text"),
        ({"classes": ["x" * 61]}, "/classes/0", "61 characters"),
        ({"condition": "in-line"}, "/condition", "object"),
        (
            {"condition": {"quantity": "weight_car", "word": "x"}},
            "/condition/quantity",
            "declared word",
        ),
        (
            {"condition": {"quantity": "layout", "word": "across"}},
            "/condition/word",
            "“across”",
        ),
    ],
)
def test_rule_that_is_wrong_is_refused_by_place(
    changes: dict[str, Any], key: str, word: str
) -> None:
    with pytest.raises(RulebookFileError) as refusal:
        read_rulebook(as_bytes(book(rules=[rule(**changes)])))
    assert refusal.value.pointer == f"/rules/0{key}"
    assert word in refusal.value.sentence


def test_number_that_stands_twice_is_refused() -> None:
    with pytest.raises(RulebookFileError) as refusal:
        read_rulebook(as_bytes(book(rules=[rule(), rule()])))
    assert refusal.value.pointer == "/rules/1/number"
