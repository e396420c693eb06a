"""
A sealed sheet as one file, to be checked anywhere: ``deploy/check_sheet.py``.

Canonical JSON (RFC 8785) with the sheet as it was signed, the rules of its edition,
the hashes of its night, and the schema that all this follows.  Sizes are whole
millionths of the quantity's unit; ``u`` and ``guard_band`` are not rounded.
"""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from inspection.compute.judging import DecisionRule, Outcome
from inspection.compute.night import Decision, Link, text_hash
from inspection.compute.rulebooks import Force, Stage
from inspection.files.canonical import canonical_text

FORMAT: Final = "feelerbook sealed sheet 1"
SHEET_FORMATS: Final = ("feelerbook sheet 1", "feelerbook sheet 2")
_HASH: Final = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
_TEXT: Final = {"type": "string"}
_WHOLE: Final = {"type": "integer"}
_WHOLE_OR_NONE: Final = {"type": ["integer", "null"]}
_NUMBER_OR_NONE: Final = {"type": ["number", "null"]}
_YES_OR_NO: Final = {"type": "boolean"}


def write_sealed_sheet(
    sheet: Mapping[str, Any],
    rules: Mapping[str, Any],
    links: Sequence[Link],
    driver: Sequence[Mapping[str, Any]] | None = None,
) -> bytes:
    """
    Write a sheet's content with its edition and the links of its night.

    ``driver`` says in words, before all else, why the car was not admitted: a rule's
    number and its sentences.  The words are in no hash; which rules they are of is
    held against the findings.
    """
    told = {} if driver is None else {"driver": list(driver)}
    whole = told | {
        "format": FORMAT,
        "schema": schema(),
        "sheet": sheet,
        "rules": rules,
        "night": {
            "links": [_link(link) for link in links],
            "head": links[-1].sha256 if links else "",
        },
    }
    return canonical_text(whole).encode()


def _link(link: Link) -> dict[str, Any]:
    return {
        "content_sha256": text_hash(link.content),
        "sha256": link.sha256,
        # The first seals hashed their content itself, and not its hash.
        "hashes_text": link.sha256
        == text_hash(f"{link.previous_sha256}\n{link.content}"),
    }


def schema() -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of the file."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:feelerbook:sealed-sheet:1",
        "title": "A sealed sheet, with its rules and the hashes of its night",
        **_whole(),
        "$defs": {
            "sheet": _sheet(),
            "finding": _finding(),
            "note": _note(),
            "person": _all(id=_WHOLE, name=_HASH),
            "rules": _all(
                decision_rule=_words(DecisionRule),
                confidence=_TEXT,
                rules={"type": "array", "items": _all(number=_TEXT, quantity=_TEXT)},
            ),
            "link": _all(content_sha256=_HASH, sha256=_HASH, hashes_text=_YES_OR_NO),
        },
    }


def _whole() -> dict[str, Any]:
    schema = _all(
        closed=True,
        format={"const": FORMAT},
        schema={"type": "object"},
        sheet={"$ref": "#/$defs/sheet"},
        rules={"$ref": "#/$defs/rules"},
        night=_all(links=_list("link"), head=_HASH),
    )
    # The first files said nothing to the driver.
    told = _all(rule=_TEXT, says={"type": "array", "items": _TEXT})
    schema["properties"]["driver"] = {"type": "array", "items": told}
    return schema


def _all(*, closed: bool = False, **members: Any) -> dict[str, Any]:
    """Describe an object that has all these members, and if closed no others."""
    schema = {"type": "object", "required": list(members), "properties": members}
    return schema | {"additionalProperties": False} if closed else schema


def _list(name: str) -> dict[str, Any]:
    return {"type": "array", "items": {"$ref": f"#/$defs/{name}"}}


def _words(words: type[Any]) -> dict[str, Any]:
    return {"enum": [word.value for word in words]}


def _sheet() -> dict[str, Any]:
    person = {"$ref": "#/$defs/person"}
    schema = _all(
        format={"enum": list(SHEET_FORMATS)},
        number=_TEXT,
        supersedes={"type": ["string", "null"]},
        night=_all(name=_TEXT, date=_TEXT, place=_TEXT),
        item=_all(
            car=_TEXT,
            car_name=_TEXT,
            owner=person,
            driver=person,
            parts={"type": "array"},
        ),
        procedure=_all(
            edition=_TEXT,
            sha256=_HASH,
            decision_rule=_words(DecisionRule),
            confidence={"type": "string", "pattern": r"^0\.[0-9]+$"},
            stage=_words(Stage),
        ),
        started_at=_TEXT,
        started_by=person,
        readings={"type": "array", "items": {"type": "object"}},
        values={"type": "array", "items": {"type": "object"}},
        findings=_list("finding"),
        decision=_words(Decision),
        own_car=_YES_OR_NO,
        sealed_at=_TEXT,
        sealed_by=person,
        sequence=_WHOLE,
    )
    # The number of the judging that the findings are of; the first seals had none.
    schema["properties"]["judging"] = _WHOLE
    # Where it was written on paper first: when it was measured.
    schema["properties"]["paper_at"] = _TEXT
    # What is said only where there is something.
    schema["properties"]["notes"] = _list("note")
    item = schema["properties"]["item"]["properties"]
    item["motor_seals"] = {
        "type": "array",
        "items": _all(number=_TEXT, by=person, at=_TEXT),
    }
    return schema


def _note() -> dict[str, Any]:
    schema = _all(text=_TEXT, by={"$ref": "#/$defs/person"}, at=_TEXT)
    schema["properties"]["picture"] = _all(sha256=_HASH, width=_WHOLE, height=_WHOLE)
    return schema


def _finding() -> dict[str, Any]:
    schema = _all(
        rule=_TEXT,
        quantity=_TEXT,
        lower=_WHOLE_OR_NONE,
        upper=_WHOLE_OR_NONE,
        force=_words(Force),
        outcome=_words(Outcome),
        admitted=_YES_OR_NO,
        taken=_YES_OR_NO,
        value=_WHOLE_OR_NONE,
        u=_NUMBER_OR_NONE,
        margin=_WHOLE_OR_NONE,
        point={"type": ["string", "null"]},
    )
    later = {
        "went_under": {"type": ["boolean", "null"]},
        "critical": _NUMBER_OR_NONE,
        "guard_band": _NUMBER_OR_NONE,
        "probability": _NUMBER_OR_NONE,
        "half_width": _NUMBER_OR_NONE,
        "places": _WHOLE,
    }
    schema["properties"] |= later
    return schema
