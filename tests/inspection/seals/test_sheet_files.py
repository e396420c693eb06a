"""
Sheets as files, checked by the one program that knows nothing of this project.

``deploy/check_sheet.py`` is the second method: JCGM 106:2012 by the standard library's
normal law (AS 241), RFC 8785 written anew, SHA-256 of FIPS 180-4.
"""

import ast
import json
import math
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
import rfc8785
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from deploy import check_sheet
from inspection.compute.judging import DecisionRule
from inspection.compute.night import Link, chained_hash
from inspection.compute.quantities import Source
from inspection.compute.rulebooks import RulebookText, RuleText, Stage
from inspection.files.canonical import canonical_text
from inspection.files.rulebooks import checksum, write_rulebook
from inspection.files.sealed_sheets import schema, write_sealed_sheet
from inspection.loaders.block.fields import field_of
from inspection.loaders.block.findings import findings_of
from inspection.loaders.block.seals import finding_as_json
from inspection.loaders.block.values import ColumnValue
from inspection.loaders.rulebooks.editions import (
    LoadedEdition,
    load_edition,
    rulebook_text,
)
from inspection.loaders.seals.links import links_of_night
from inspection.models import RaceNight, Seal
from tests import builders
from tests.browser.race_night import GEOMETRY, GOOD, RULES
from tests.inspection.seals_night import make_sealed_night

SCRIPT = Path(check_sheet.__file__)
SEED = 8785
FileOf = Callable[[Seal], bytes]


@pytest.fixture
def night(db: None) -> RaceNight:
    return make_sealed_night(builders.make_scrutineer())


def file_of(seal: Seal) -> bytes:
    edition = seal.sheet.edition
    return write_sealed_sheet(
        json.loads(seal.content),
        json.loads(write_rulebook(rulebook_text(edition))),
        links_of_night(seal.night_id),
    )


def run(path: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run the script by itself: no packages, no project, no environment."""
    command = [sys.executable, "-I", "-S", str(SCRIPT), str(path), *words]
    return subprocess.run(
        command, capture_output=True, text=True, check=False, cwd=path.parent, env={}
    )


def test_script_imports_the_standard_library_alone() -> None:
    tree = ast.parse(SCRIPT.read_text(encoding="utf-8"))
    names = {
        name.split(".")[0]
        for node in ast.walk(tree)
        for name in (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else []
        )
    }
    assert names <= sys.stdlib_module_names


def test_downloaded_file_holds_on_another_machine(
    night: RaceNight, tmp_path: Path, client_of: Callable[[Any], Client]
) -> None:
    client = client_of(builders.make_scrutineer())
    seals = list(Seal.objects.filter(night=night).order_by("sequence"))
    for seal in seals:
        answer = client.get(f"/sheet/{seal.sheet.number}/file")
        assert answer.status_code == 200
        assert answer.headers["Content-Type"] == "application/json"
        name = f'filename="sheet-{seal.sheet.number}.json"'
        assert answer.headers["Content-Disposition"].endswith(name)
        path = tmp_path / "sheet.json"
        path.write_bytes(answer.content)
        whole = json.loads(answer.content)
        jsonschema.Draft202012Validator(whole["schema"]).validate(whole)
        done = run(path, "--head", seals[-1].sha256, str(len(seals)))
        assert done.returncode == 0, done.stdout + done.stderr
        assert done.stdout.endswith("All agrees.\n")
        assert f"Decision: {seal.decision}" in done.stdout
    done = run(path, "--head", "0" * 64, "3")
    assert done.returncode == 1
    assert "is not in this night's chain" in done.stdout


def test_open_sheet_has_no_file(
    night: RaceNight, client_of: Callable[[Any], Client]
) -> None:
    sheet = builders.make_sheet(entry=builders.make_entry(night=night))
    client = client_of(builders.make_scrutineer())
    answer = client.get(f"/sheet/{sheet.number}/file", follow=True)
    assert "is not sealed yet" in answer.content.decode()
    number = Seal.objects.get(sequence=1).sheet.number
    stranger = client_of(builders.make_person()).get(f"/sheet/{number}/file")
    assert stranger.status_code == 404


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"\xff", "not a file of JSON"),
        (b"{", "not a file of JSON"),
        (b'{"format":1,"format":2}', "a key stands twice"),
        (b"[]", "not a file of the format"),
        (b'{"format": "feelerbook sealed sheet 1"}', "canonical form"),
        (b'{"format":"feelerbook sealed sheet 1","u":NaN}', "no number of JSON"),
    ],
)
def test_file_that_cannot_be_checked_is_refused(
    tmp_path: Path, content: bytes, says: str
) -> None:
    path = tmp_path / "sheet.json"
    path.write_bytes(content)
    done = run(path)
    assert done.returncode == 1
    assert says in done.stdout
    assert not done.stderr
    assert run(tmp_path / "none.json").returncode == 1


def test_file_too_large_is_not_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(check_sheet, "LARGEST", 3)
    with pytest.raises(check_sheet.CannotReadError, match="at most 3"):
        check_sheet.read(b"1234")


def leaves(value: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if isinstance(value, dict | list):
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
        for key, one in pairs:
            yield from leaves(one, (*at, key))
    else:
        yield at


def other(value: Any) -> Any:
    match value:
        case bool():
            return not value
        case int() | float():
            return value + 1
        case str():
            return value[:-1] + ("a" if value[-1:] != "a" else "b")
        case _:
            return 1


def test_every_leaf_of_a_file_is_held(night: RaceNight) -> None:
    """Whatever is changed in sheet, rules or night, the file does not hold."""
    whole = json.loads(file_of(Seal.objects.get(sequence=2)))
    missed = []
    for part in ("sheet", "rules", "night"):
        for at in leaves(whole[part]):
            changed = json.loads(json.dumps(whole))
            place = changed[part]
            for key in at[:-1]:
                place = place[key]
            place[at[-1]] = other(place[at[-1]])
            differences, _ = check_sheet.check(changed)
            if not differences:
                missed.append((part, at))
    assert not missed


@pytest.mark.parametrize(
    ("key", "value"),
    [("outcome", "pass"), ("admitted", True), ("margin", 3), ("probability", 0.5)],
)
def test_finding_that_is_forged_with_every_hash_is_named(
    night: RaceNight, key: str, value: object
) -> None:
    """Rewritten to fit its hashes: only the judging tells."""
    seal = Seal.objects.get(sequence=2)
    sheet = json.loads(seal.content)
    sheet["findings"][0][key] = value
    rules = json.loads(write_rulebook(rulebook_text(seal.sheet.edition)))
    differences = differences_of(sheet, rules)
    assert any(f"rule 1: {key} is" in one for one in differences)


def differences_of(sheet: dict[str, Any], rules: dict[str, Any]) -> list[str]:
    """Write a file of a night of this one sheet, and check it as it is read."""
    text = canonical_text(sheet | {"sequence": 1})
    link = Link(content=text, previous_sha256="", sha256=chained_hash("", text))
    content = write_sealed_sheet(json.loads(text), rules, [link])
    found, _ = check_sheet.check(check_sheet.read(content))
    return found


def test_passed_with_a_mandatory_rule_not_admitted_is_named(night: RaceNight) -> None:
    seal = Seal.objects.get(sequence=2)
    sheet = json.loads(seal.content) | {"decision": "passed"}
    rules = json.loads(write_rulebook(rulebook_text(seal.sheet.edition)))
    assert "passed, with rule 1 mandatory and not admitted" in differences_of(
        sheet, rules
    )


def test_rules_of_another_edition_are_named(night: RaceNight) -> None:
    seal = Seal.objects.get(sequence=1)
    rules = json.loads(write_rulebook(rulebook_text(seal.sheet.edition)))
    rules["rules"][0]["lower"] = "79.5"
    found = differences_of(json.loads(seal.content), rules)
    assert any("are not those of the edition's SHA-256" in one for one in found)
    assert any(one.startswith("rule 1: lower is 80000000") for one in found)


def test_stored_critical_value_is_judged_by(night: RaceNight) -> None:
    """A wider band by a critical value of its own takes a pass away."""
    sheet = json.loads(Seal.objects.get(sequence=1).content)
    finding = sheet["findings"][0]
    assert finding["outcome"] == "pass"
    wide = finding | {"critical": 1e6}
    assert check_sheet.judged(wide, "guarded acceptance", 0.95)["outcome"] == (
        "conditional pass"
    )


def test_first_seals_are_checked_by_their_own_way_of_hashing(night: RaceNight) -> None:
    seal = Seal.objects.get(sequence=1)
    sheet = json.loads(seal.content) | {"format": "feelerbook sheet 1"}
    del sheet["judging"]
    rules = json.loads(write_rulebook(rulebook_text(seal.sheet.edition)))
    links, previous = [], ""
    for content in (canonical_text(sheet), "x"):
        sha256 = check_sheet.sha256(f"{previous}\n{content}")
        links.append(Link(content=content, previous_sha256=previous, sha256=sha256))
        previous = sha256
    found, _ = check_sheet.check(
        check_sheet.read(write_sealed_sheet(sheet, rules, links))
    )
    assert found == []


def changed_limits(
    chance: np.random.Generator, values: dict[str, float | None]
) -> Iterator[RuleText]:
    """
    Put each rule's limits near what the good car has, on either side of it.

    One edition in three asks so little that a car may pass.
    """
    ease = int(chance.choice([0, 0, 200]))
    for rule in RULES:
        value = values.get(rule.number)
        if rule.required is not None or value is None:
            yield rule
            continue
        near = chance.normal(0, 0.05, 2)
        lower = (round((value - near[0]) * 100) - ease) * 10_000
        sizes: dict[str, Any] = {}
        if rule.lower is not None:
            sizes["lower"] = lower
        if rule.upper is not None:
            width = round(abs(near[1]) * 100) + 2 * ease
            sizes["upper"] = lower + width * 10_000
        yield RuleText(
            number=rule.number,
            sentence=rule.sentence,
            quantity=rule.quantity,
            force=rule.force,
            evidence=rule.evidence,
            required=None,
            **sizes,
        )


def drawn_values(chance: np.random.Generator) -> dict[str, ColumnValue]:
    """Draw a car near the good one; limit slips go or stop, some are not taken."""
    values = {
        "layout": ColumnValue(column="layout", value=0.0, source=Source.DECLARED),
        "front_carrier": ColumnValue(
            column="front_carrier", value=0.0, source=Source.DECLARED
        ),
    }
    for column, text in {**GEOMETRY, **GOOD}.items():
        if chance.random() < 0.02:
            continue
        if column.startswith("clearance"):
            went = bool(chance.random() < 0.5)
            is_tried = bool(chance.random() < 0.5)
            half = float(chance.choice([0.01, 0.05, 0.1]))
            values[column] = ColumnValue(
                column=column,
                value=round(0.9 + chance.integers(-2, 3) / 10, 2),
                random=0.005 if is_tried else half / math.sqrt(3),
                systematic=0.01,
                gauge=(1, None),
                source=Source.TAKEN,
                went_under=went if is_tried else None,
                between_slips=not is_tried and bool(chance.random() < 0.6),
            )
        elif text in {"yes", "no"}:
            values[column] = ColumnValue(
                column=column,
                value=float(chance.random() < 0.9),
                source=Source.TAKEN,
            )
        else:
            values[column] = ColumnValue(
                column=column,
                value=float(text) + chance.normal(0, 0.03),
                random=float(chance.uniform(0, 0.02)),
                systematic=float(chance.uniform(0, 0.02)),
                gauge=(int(chance.integers(1, 4)), None),
                source=Source.TAKEN,
            )
    return values


def drawn_edition(chance: np.random.Generator) -> tuple[LoadedEdition, RulebookText]:
    loaded = load_edition(builders.make_edition(RULES))
    good = {
        found.rule.number: found.value
        for found in findings_of(
            loaded,
            loaded.rules,
            field_of(drawn_values(np.random.default_rng(1))),
            Stage.BEFORE,
        )
    }
    rule = list(DecisionRule)[int(chance.integers(3))]
    edition = builders.make_edition(
        changed_limits(chance, good),
        decision_rule=rule,
        confidence=Decimal(int(chance.integers(51, 100))) / 100,
    )
    return load_edition(edition), rulebook_text(edition)


def sheets_agree(count: int) -> Counter[str]:
    """Judge cars here and there; every outcome, admission and decision agrees."""
    chance = np.random.default_rng(SEED)
    outcomes: Counter[str] = Counter()
    template = json.loads(Seal.objects.order_by("pk")[0].content)
    for place in range(count):
        if place % 50 == 0:
            edition, text = drawn_edition(chance)
            rules = json.loads(write_rulebook(text))
        field = field_of(drawn_values(chance))
        findings = findings_of(edition, edition.rules, field, Stage.BEFORE)
        held_up = any(found.keeps_from_passing for found in findings)
        sheet = template | {
            "procedure": template["procedure"]
            | {
                "sha256": checksum(text),
                "decision_rule": text.decision_rule.value,
                "confidence": str(text.confidence.normalize()),
                "stage": "before",
            },
            "findings": [finding_as_json(found) for found in findings],
            "decision": "sent back" if held_up else "passed",
        }
        assert differences_of(sheet, rules) == []
        outcomes.update(found.outcome.value for found in findings)
        outcomes[sheet["decision"]] += 1
        for said, found in zip(sheet["findings"], findings, strict=True):
            again = check_sheet.judged(
                said, text.decision_rule.value, float(text.confidence)
            )
            if found.probability is not None and found.places:
                # That of all places at once; the file holds the one that decides.
                assert found.probability <= again["probability"] + 0.01
            elif found.probability is not None:
                assert abs(again["probability"] - found.probability) <= 1e-6
    return outcomes


@pytest.mark.django_db
def test_random_sealed_sheets_agree(night: RaceNight) -> None:
    outcomes = sheets_agree(200)
    assert {*check_sheet.OUTCOMES, "not measured", "sent back"} <= set(outcomes)


@pytest.mark.long
@pytest.mark.django_db
def test_ten_thousand_random_sealed_sheets_agree(night: RaceNight) -> None:
    outcomes = sheets_agree(10_000)
    assert {*check_sheet.OUTCOMES, "passed", "sent back"} <= set(outcomes)


VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
)


@given(VALUES)
def test_canonical_form_is_that_of_another_implementation(value: Any) -> None:
    assert check_sheet.canonical(value) == rfc8785.dumps(value).decode()


@pytest.mark.parametrize(
    ("number", "text"),
    [
        # RFC 8785, appendix B.
        (0.0, "0"),
        (-0.0, "0"),
        (5e-324, "5e-324"),
        (1.7976931348623157e308, "1.7976931348623157e+308"),
        (9007199254740992.0, "9007199254740992"),
        (295147905179352830000.0, "295147905179352830000"),
        (9.999999999999997e22, "9.999999999999997e+22"),
        (1e23, "1e+23"),
        (999999999999999700000.0, "999999999999999700000"),
        (1e21, "1e+21"),
        (9.999999999999997e-7, "9.999999999999997e-7"),
        (0.000001, "0.000001"),
        (333333333.33333325, "333333333.33333325"),
        (-0.0000033333333333333333, "-0.0000033333333333333333"),
    ],
)
def test_numbers_are_written_as_the_standard_has_them(number: float, text: str) -> None:
    assert check_sheet.canonical(number) == text


def test_schema_of_the_file_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())
