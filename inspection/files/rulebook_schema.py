"""
The JSON Schema (2020-12) of a rulebook's file, which ships beside this module.

Written from the registry: ``python -m inspection.files.rulebook_schema`` writes the
file again after a quantity was added.  A schema cannot say all that is checked: that
a lower limit is not above the upper one, and that no rule's number stands twice.
"""

import json
from collections import defaultdict
from collections.abc import Iterable
from enum import StrEnum
from pathlib import Path
from typing import Any, Final

from inspection.compute.judging import DecisionRule
from inspection.compute.quantities import QUANTITIES, Kind, Quantity
from inspection.compute.rulebooks import Answer, Evidence, Force, Stage
from inspection.files.rulebooks import FORMAT, LARGEST_EDITION, LONGEST, NUMBER

SCHEMA_FILE: Final = Path(__file__).with_name("rulebook.schema.json")
_ONE_LINE: Final = r"^[^\u0000-\u001f\u007f-\u009f]*$"
_LINES: Final = r"^[^\u0000-\u0009\u000b-\u001f\u007f-\u009f]*$"
_LIMITS: Final = ("lower", "upper", "lower_after", "upper_after")


def rulebook_schema() -> dict[str, Any]:
    """Give the schema as a JSON value."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:feelerbook:rulebook:1",
        "title": "A rulebook's edition",
        "description": "One edition of the rules that a club's cars are inspected by. "
        "The file is exchanged in canonical form (RFC 8785); its SHA-256 is that of "
        "the canonical form, with the classes of each rule sorted by code point. "
        "Besides what a schema can say: no number of a rule stands twice, no lower "
        "limit is above the upper one that holds with it, no key stands twice in an "
        "object.",
        "type": "object",
        "additionalProperties": False,
        "required": ["format", "rulebook", "edition", "decision_rule", "rules"],
        "properties": {
            "format": {"const": FORMAT},
            "rulebook": _text("rulebook", "The rulebook's name."),
            "edition": {
                "description": "The edition's number.",
                "type": "integer",
                "minimum": 1,
                "maximum": LARGEST_EDITION,
            },
            "decision_rule": _word(
                DecisionRule, "Who has the benefit of a measurement's doubt."
            ),
            "confidence": {
                "description": "Of the guard band, one-sided: above 0.5 and below 1, "
                "at most four places.",
                "type": "string",
                "pattern": r"^0\.(5(?!0*$)|[6-9])[0-9]{0,3}0{0,2}$",
                "maxLength": 8,
                "default": "0.95",
            },
            "note": {
                "description": "Anything that is to be read with the rules.",
                "type": "string",
                "maxLength": LONGEST["note"],
                "pattern": _LINES,
                "default": "",
            },
            "rules": {
                "description": "In the order in which they are read.",
                "type": "array",
                "minItems": 1,
                "items": {"$ref": "#/$defs/rule"},
            },
        },
        "$defs": {"rule": _rule(), "limit": _limit()},
    }


def _rule() -> dict[str, Any]:
    ruled = [one for one in QUANTITIES.values() if one.kind is not Kind.DECLARED]
    return {
        "type": "object",
        "additionalProperties": False,
        "required": ["number", "sentence", "quantity", "unit"],
        "properties": {
            "number": _text("number", "Unlike every other rule's."),
            "sentence": _text("sentence", "The rule as a person reads it."),
            "quantity": {
                "description": "What is limited.",
                "oneOf": [_named(one) for one in ruled],
            },
            "unit": {"description": "The quantity's own unit.", "type": "string"},
            **{name: {"$ref": "#/$defs/limit"} for name in _LIMITS},
            "required": _word(Answer, "What must be seen; of a looked-at quantity."),
            "force": _word(
                Force, "Whether breaking it sends the car back.", Force.MANDATORY
            ),
            "stage": _word(Stage, "When it is asked, about the race.", Stage.BOTH),
            "evidence": _word(
                Evidence, "Whether a derived value is evidence.", Evidence.EITHER
            ),
            "classes": {
                "description": "Of which classes it speaks; none named, of all.",
                "type": "array",
                "items": _text("class", "A class's name."),
                "uniqueItems": True,
                "default": [],
            },
            "condition": {
                "description": "Speaks only of cars of which this word is declared.",
                "oneOf": [_condition(one) for one in QUANTITIES.values() if one.words],
            },
        },
        "allOf": [*_units(ruled), _looked_at(ruled)],
    }


def _named(quantity: Quantity) -> dict[str, Any]:
    return {"const": quantity.key, "title": quantity.label}


def _limit() -> dict[str, Any]:
    return {
        "description": "A decimal number as text, so that no digit is lost; itself "
        "allowed.",
        "type": "string",
        "pattern": f"^{NUMBER}$",
    }


def _text(key: str, description: str) -> dict[str, Any]:
    return {
        "description": description,
        "type": "string",
        "maxLength": LONGEST[key],
        "pattern": _ONE_LINE,
        "allOf": [{"pattern": r"\S"}],
    }


def _word(
    words: type[StrEnum], description: str, default: StrEnum | None = None
) -> dict[str, Any]:
    schema: dict[str, Any] = {
        "description": description,
        "enum": [word.value for word in words],
    }
    return schema if default is None else {**schema, "default": default.value}


def _condition(quantity: Quantity) -> dict[str, Any]:
    return {
        "type": "object",
        "additionalProperties": False,
        "required": ["quantity", "word"],
        "properties": {
            "quantity": _named(quantity),
            "word": {"enum": [word.value for word in quantity.words or ()]},
        },
    }


def _units(ruled: Iterable[Quantity]) -> list[dict[str, Any]]:
    keys: dict[str, list[str]] = defaultdict(list)
    for one in ruled:
        keys[one.unit.value].append(one.key)
    return [
        {
            "if": {"properties": {"quantity": {"enum": those}}},
            "then": {"properties": {"unit": {"const": unit}}},
        }
        for unit, those in keys.items()
    ]


def _looked_at(ruled: Iterable[Quantity]) -> dict[str, Any]:
    seen = [one.key for one in ruled if one.kind is Kind.LOOKED_AT]
    return {
        "if": {"properties": {"quantity": {"enum": seen}}},
        "then": {
            "required": ["required"],
            "properties": dict.fromkeys(_LIMITS, False),
        },
        "else": {
            "anyOf": [{"required": ["lower"]}, {"required": ["upper"]}],
            "properties": {"required": False},
        },
    }


def schema_text() -> str:
    """Give the schema as its file says it."""
    return json.dumps(rulebook_schema(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    SCHEMA_FILE.write_text(schema_text(), encoding="utf-8")
