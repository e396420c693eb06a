"""
A rulebook as a JSON file: read strictly, written canonically (RFC 8785).

Limits are decimal numbers written as text (``"0.8"``), in the unit named
beside them, so that no digit is lost.  What is wrong is refused by name and
place (a JSON pointer, RFC 6901).
"""

import hashlib
import re
from collections.abc import Mapping
from decimal import Decimal
from enum import StrEnum
from types import MappingProxyType
from typing import Any, ClassVar, Final, TypeVar

import rfc8785

from inspection.compute.conformity import DecisionRule
from inspection.compute.quantities import QUANTITIES
from inspection.compute.quantity import Kind, Quantity
from inspection.compute.requirements import Answer, Evidence, Force, Stage
from inspection.compute.rulebook import RulebookText, RuleText
from inspection.files.strict_json import StrictJsonError, pointer_to, read_json
from inventory.compute.errors import ComputeError

FORMAT: Final = "feelerbook rulebook 1"
LARGEST_FILE: Final = 2_000_000
LARGEST_EDITION: Final = 32_767
LONGEST: Final[Mapping[str, int]] = MappingProxyType(
    {"rulebook": 80, "note": 4000, "number": 12, "sentence": 300, "class": 60}
)
#: A number as text: no exponent, no blank, no digit but 0 to 9.
NUMBER: Final = r"-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,6})?"
#: Signs that no text may hold; a note may have lines.
_CONTROL: Final = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_LIMITS: Final = ("lower", "upper", "lower_after", "upper_after")
_RULE_KEYS: Final = frozenset({
    "number", "sentence", "quantity", "unit", *_LIMITS, "required", "force",
    "stage", "evidence", "classes", "condition",
})  # fmt: skip
_BOOK_KEYS: Final = frozenset({
    "format", "rulebook", "edition", "decision_rule", "confidence", "note", "rules",
})  # fmt: skip
Word = TypeVar("Word", bound=StrEnum)


class RulebookFileError(ComputeError):
    """A rulebook file says something that no rulebook can say."""

    code: ClassVar[str] = "rulebook_file"

    def __init__(self, pointer: str, sentence: str) -> None:
        super().__init__(f"{pointer or '/'}: {sentence}")
        self.pointer, self.sentence = pointer, sentence


def read_rulebook(content: bytes) -> RulebookText:
    """Read a file; RulebookFileError names the place that is wrong."""
    if len(content) > LARGEST_FILE:
        raise _wrong(
            at="",
            sentence=f"{len(content):,} bytes; at most {LARGEST_FILE:,} are read.",
        )
    try:
        book = read_json(content)
    except StrictJsonError as error:
        raise _wrong(at=error.pointer, sentence=error.sentence) from error
    _check_keys(book, "", _BOOK_KEYS)
    if book.get("format") != FORMAT:
        raise _wrong(
            at="/format", sentence=f"“{_short(book.get('format'))}”, not “{FORMAT}”."
        )
    rules = book.get("rules")
    if not isinstance(rules, list) or not rules:
        raise _wrong(at="/rules", sentence="a list of at least one rule is expected.")
    text = RulebookText(
        rulebook=_text(book, "", "rulebook"),
        edition=_edition(book),
        decision_rule=_word(book, "", "decision_rule", DecisionRule),
        confidence=_confidence(book),
        note=_text(book, "", "note", default=""),
        rules=tuple(_rule(rule, f"/rules/{i}") for i, rule in enumerate(rules)),
    )
    _refuse_double_numbers(text.rules)
    return text


def write_rulebook(text: RulebookText) -> bytes:
    """Write the canonical form, the one whose SHA-256 is shown."""
    return rfc8785.dumps(
        {
            "format": FORMAT,
            "rulebook": text.rulebook,
            "edition": text.edition,
            "decision_rule": text.decision_rule.value,
            "confidence": str(text.confidence.normalize()),
            "note": text.note,
            "rules": [_rule_as_json(rule) for rule in text.rules],
        }
    )


def checksum(text: RulebookText) -> str:
    """Give the SHA-256 of the canonical form, in hexadecimal."""
    return hashlib.sha256(write_rulebook(text)).hexdigest()


def rule_checksum(rule: RuleText) -> str:
    """Give a short hash of a rule, by which a change of it shows."""
    return hashlib.sha256(rfc8785.dumps(_rule_as_json(rule))).hexdigest()[:16]


def check_rule(rule: RuleText) -> None:
    """Refuse a rule that no file can hold; the pointer is that of its key."""
    _rule(_rule_as_json(rule), "")


def _wrong(*, at: str, sentence: str) -> RulebookFileError:
    return RulebookFileError(at, sentence)


def _rule_as_json(rule: RuleText) -> dict[str, Any]:
    quantity = QUANTITIES[rule.quantity]
    said: dict[str, Any] = {
        "number": rule.number,
        "sentence": rule.sentence,
        "quantity": rule.quantity,
        "unit": quantity.unit.value,
        "force": rule.force.value,
        "stage": rule.stage.value,
        "evidence": rule.evidence.value,
    }
    for name in _LIMITS:
        limit: int | None = getattr(rule, name)
        if limit is not None:
            said[name] = _decimal_text(limit)
    if rule.required is not None:
        said["required"] = rule.required.value
    if rule.classes:
        said["classes"] = sorted(rule.classes)
    if rule.condition_key:
        said["condition"] = {
            "quantity": rule.condition_key,
            "word": rule.condition_word,
        }
    return said


def _decimal_text(millionths: int) -> str:
    value = Decimal(millionths).scaleb(-6).normalize()
    return f"{value:f}"


def _rule(rule: Any, at: str) -> RuleText:
    _check_keys(rule, at, _RULE_KEYS)
    quantity = _quantity(rule, at)
    limits = {name: _limit(rule, at, name) for name in _LIMITS}
    required = _word(rule, at, "required", Answer) if "required" in rule else None
    _check_limits(quantity, limits, required, at)
    key, word = _condition(rule, at)
    return RuleText(
        number=_text(rule, at, "number"),
        sentence=_text(rule, at, "sentence"),
        quantity=quantity.key,
        **limits,
        required=required,
        force=_word(rule, at, "force", Force, default=Force.MANDATORY),
        stage=_word(rule, at, "stage", Stage, default=Stage.BOTH),
        evidence=_word(rule, at, "evidence", Evidence, default=Evidence.EITHER),
        classes=_classes(rule, at),
        condition_key=key,
        condition_word=word,
    )


def _check_keys(value: Any, at: str, known: frozenset[str]) -> None:
    if not isinstance(value, Mapping):
        raise _wrong(at=at, sentence="an object is expected.")
    for key in value:
        if key not in known:
            raise _wrong(at=pointer_to(at, key), sentence=f"“{key}” is not known here.")


def _text(
    value: Mapping[str, Any], at: str, key: str, *, default: str | None = None
) -> str:
    found = value.get(key, default)
    if not isinstance(found, str) or (not found.strip() and default is None):
        raise _wrong(at=f"{at}/{key}", sentence="a text is expected.")
    _check_text(found, f"{at}/{key}", longest=LONGEST[key])
    return found


def _check_text(found: str, at: str, *, longest: int) -> None:
    if len(found) > longest:
        raise _wrong(
            at=at, sentence=f"{len(found)} characters; at most {longest} are kept."
        )
    lines = found.replace("\n", "") if at == "/note" else found
    if sign := _CONTROL.search(lines):
        raise _wrong(
            at=at, sentence=f"the control character U+{ord(sign[0]):04X} is no text."
        )


def _word(
    value: Mapping[str, Any],
    at: str,
    key: str,
    words: type[Word],
    *,
    default: Word | None = None,
) -> Word:
    found = value.get(key, default)
    if found not in list(words):
        expected = ", ".join(f"“{word}”" for word in words)
        raise _wrong(
            at=f"{at}/{key}", sentence=f"“{_short(found)}” is not one of {expected}."
        )
    return words(found)


def _edition(book: Mapping[str, Any]) -> int:
    edition = book.get("edition")
    if type(edition) is int and 1 <= edition <= LARGEST_EDITION:
        return edition
    raise _wrong(
        at="/edition",
        sentence=f"“{_short(edition)}” is not a whole number from 1 to "
        f"{LARGEST_EDITION}.",
    )


def _short(found: Any) -> str:
    """Show what was found, not all of it where it is long."""
    text = str(found)
    return text if len(text) <= 60 else f"{text[:60]}…"


def _decimal(found: Any, at: str) -> Decimal:
    if not isinstance(found, str):
        raise _wrong(
            at=at, sentence=f"{_short(found)}: write the number as text, as “0.8”."
        )
    if not re.fullmatch(NUMBER, found):
        raise _wrong(
            at=at,
            sentence=f"“{_short(found)}” is not a number of at most nine digits "
            "and six places.",
        )
    return Decimal(found)


def _confidence(book: Mapping[str, Any]) -> Decimal:
    confidence = _decimal(book.get("confidence", "0.95"), "/confidence")
    if not Decimal("0.5") < confidence < 1 or confidence != round(confidence, 4):
        raise _wrong(
            at="/confidence",
            sentence=f"“{confidence}” is not between 0.5 and 1, four places.",
        )
    return confidence


def _quantity(rule: Mapping[str, Any], at: str) -> Quantity:
    quantity = QUANTITIES.get(str(rule.get("quantity")))
    if quantity is None:
        raise _wrong(
            at=f"{at}/quantity",
            sentence=f"“{_short(rule.get('quantity'))}” is not a known quantity.",
        )
    if quantity.kind is Kind.DECLARED:
        raise _wrong(
            at=f"{at}/quantity",
            sentence=f"{quantity.label} is declared; no rule can limit it.",
        )
    if rule.get("unit") != quantity.unit.value:
        raise _wrong(
            at=f"{at}/unit",
            sentence=f"“{_short(rule.get('unit'))}”; {quantity.label} is in "
            f"“{quantity.unit}”.",
        )
    return quantity


def _limit(rule: Mapping[str, Any], at: str, name: str) -> int | None:
    if name not in rule:
        return None
    return int(_decimal(rule[name], f"{at}/{name}").scaleb(6))


def _check_limits(
    quantity: Quantity,
    limits: Mapping[str, int | None],
    required: Answer | None,
    at: str,
) -> None:
    looked_at = quantity.kind is Kind.LOOKED_AT
    has_limit = any(limit is not None for limit in limits.values())
    if looked_at and (required is None or has_limit):
        raise _wrong(
            at=f"{at}/required",
            sentence=f"{quantity.label} is looked at: “yes” or “no”, no limit.",
        )
    if not looked_at and required is not None:
        raise _wrong(
            at=f"{at}/required",
            sentence=f"{quantity.label} has a limit, not an answer.",
        )
    if not looked_at and limits["lower"] is None and limits["upper"] is None:
        raise _wrong(at=at, sentence="a lower or an upper limit is expected.")
    _check_order(limits, at)


def _check_order(limits: Mapping[str, int | None], at: str) -> None:
    lower, upper = limits["lower"], limits["upper"]
    after = limits["lower_after"], limits["upper_after"]
    # Where there is no limit for after the race, the one for before it holds.
    lower_after = lower if after[0] is None else after[0]
    upper_after = upper if after[1] is None else after[1]
    place = "lower_after" if after[0] is not None else "upper_after"
    for name, low, high in (
        ("lower", lower, upper),
        (place, lower_after, upper_after),
    ):
        if low is not None and high is not None and low > high:
            raise _wrong(
                at=f"{at}/{name}", sentence="the lower limit is above the upper."
            )


def _classes(rule: Mapping[str, Any], at: str) -> tuple[str, ...]:
    found = rule.get("classes", [])
    if not isinstance(found, list) or not all(isinstance(name, str) for name in found):
        raise _wrong(at=f"{at}/classes", sentence="a list of class names is expected.")
    if len(set(found)) != len(found):
        raise _wrong(at=f"{at}/classes", sentence="a class stands twice.")
    for index, name in enumerate(found):
        if not name.strip():
            raise _wrong(at=f"{at}/classes/{index}", sentence="a text is expected.")
        _check_text(name, f"{at}/classes/{index}", longest=LONGEST["class"])
    # In one order, so that the same classes have the same checksum.
    return tuple(sorted(found))


def _condition(rule: Mapping[str, Any], at: str) -> tuple[str, str]:
    if "condition" not in rule:
        return "", ""
    found, at = rule["condition"], f"{at}/condition"
    _check_keys(found, at, frozenset({"quantity", "word"}))
    quantity = QUANTITIES.get(str(found.get("quantity")))
    if quantity is None or quantity.words is None:
        raise _wrong(
            at=f"{at}/quantity",
            sentence=f"“{_short(found.get('quantity'))}” is not a declared word.",
        )
    return quantity.key, _word(found, at, "word", quantity.words).value


def _refuse_double_numbers(rules: tuple[RuleText, ...]) -> None:
    seen: dict[str, int] = {}
    for index, rule in enumerate(rules):
        if rule.number in seen:
            raise _wrong(
                at=f"/rules/{index}/number",
                sentence=f"“{rule.number}” is rule {seen[rule.number] + 1}'s number.",
            )
        seen[rule.number] = index
