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
from django.utils.translation import gettext as _

from inspection.compute.judging import DecisionRule
from inspection.compute.quantities import QUANTITIES, Kind, Quantity
from inspection.compute.rulebooks import (
    Answer,
    Evidence,
    Force,
    RulebookText,
    RuleText,
    Stage,
)
from inspection.files.strict_json import StrictJsonError, pointer_to, read_json
from inspection.words.quantities import quantity_name
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
            sentence=_("%(n)s bytes; at most %(largest_file)s are read.")
            % {"n": f"{len(content):,}", "largest_file": f"{LARGEST_FILE:,}"},
        )
    try:
        book = read_json(content)
    except StrictJsonError as error:
        raise _wrong(at=error.pointer, sentence=error.sentence) from error
    _check_keys(book, "", _BOOK_KEYS)
    if book.get("format") != FORMAT:
        raise _wrong(
            at="/format",
            sentence=_("“%(short)s”, not “%(format)s”.")
            % {"short": _short(book.get("format")), "format": FORMAT},
        )
    rules = book.get("rules")
    if not isinstance(rules, list) or not rules:
        raise _wrong(
            at="/rules", sentence=_("a list of at least one rule is expected.")
        )
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
    members: dict[str, Any] = {
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
            members[name] = _decimal_text(limit)
    if rule.required is not None:
        members["required"] = rule.required.value
    if rule.classes:
        members["classes"] = sorted(rule.classes)
    if rule.condition_key:
        members["condition"] = {
            "quantity": rule.condition_key,
            "word": rule.condition_word,
        }
    return members


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
        raise _wrong(at=at, sentence=_("an object is expected."))
    for key in value:
        if key not in known:
            raise _wrong(
                at=pointer_to(at, key),
                sentence=_("“%(key)s” is not known here.") % {"key": key},
            )


def _text(
    value: Mapping[str, Any], at: str, key: str, *, default: str | None = None
) -> str:
    text = value.get(key, default)
    if not isinstance(text, str) or (not text.strip() and default is None):
        raise _wrong(at=f"{at}/{key}", sentence=_("a text is expected."))
    _check_text(text, f"{at}/{key}", longest=LONGEST[key])
    return text


def _check_text(text: str, at: str, *, longest: int) -> None:
    if len(text) > longest:
        raise _wrong(
            at=at,
            sentence=_("%(n)s characters; at most %(longest)s are kept.")
            % {"n": len(text), "longest": longest},
        )
    lines = text.replace("\n", "") if at == "/note" else text
    if sign := _CONTROL.search(lines):
        raise _wrong(
            at=at,
            sentence=_("the control character U+%(ord)s is no text.")
            % {"ord": f"{ord(sign[0]):04X}"},
        )


def _word(
    value: Mapping[str, Any],
    at: str,
    key: str,
    words: type[Word],
    *,
    default: Word | None = None,
) -> Word:
    given = value.get(key, default)
    if given not in list(words):
        expected = ", ".join(f"“{word}”" for word in words)
        raise _wrong(
            at=f"{at}/{key}",
            sentence=_("“%(short)s” is not one of %(expected)s.")
            % {"short": _short(given), "expected": expected},
        )
    return words(given)


def _edition(book: Mapping[str, Any]) -> int:
    edition = book.get("edition")
    if type(edition) is int and 1 <= edition <= LARGEST_EDITION:
        return edition
    raise _wrong(
        at="/edition",
        sentence=_("“%(short)s” is not a whole number from 1 to %(largest_edition)s.")
        % {"short": _short(edition), "largest_edition": LARGEST_EDITION},
    )


def _short(value: Any) -> str:
    """Show what was found, not all of it where it is long."""
    text = str(value)
    return text if len(text) <= 60 else f"{text[:60]}…"


def _decimal(value: Any, at: str) -> Decimal:
    if not isinstance(value, str):
        raise _wrong(
            at=at,
            sentence=_("%(short)s: write the number as text, as “0.8”.")
            % {"short": _short(value)},
        )
    if not re.fullmatch(NUMBER, value):
        raise _wrong(
            at=at,
            sentence=_(
                "“%(short)s” is not a number of at most nine digits and six places."
            )
            % {"short": _short(value)},
        )
    return Decimal(value)


def _confidence(book: Mapping[str, Any]) -> Decimal:
    confidence = _decimal(book.get("confidence", "0.95"), "/confidence")
    if not Decimal("0.5") < confidence < 1 or confidence != round(confidence, 4):
        raise _wrong(
            at="/confidence",
            sentence=_("“%(confidence)s” is not between 0.5 and 1, four places.")
            % {"confidence": confidence},
        )
    return confidence


def _quantity(rule: Mapping[str, Any], at: str) -> Quantity:
    quantity = QUANTITIES.get(str(rule.get("quantity")))
    if quantity is None:
        raise _wrong(
            at=f"{at}/quantity",
            sentence=_("“%(short)s” is not a known quantity.")
            % {"short": _short(rule.get("quantity"))},
        )
    if quantity.kind is Kind.DECLARED:
        raise _wrong(
            at=f"{at}/quantity",
            sentence=_("%(label)s is declared; no rule can limit it.")
            % {"label": quantity_name(quantity)},
        )
    if (unit := rule.get("unit")) != quantity.unit.value:
        sentence = _("“%(said)s”; %(label)s is in “%(unit)s”.")
        names = {"label": quantity_name(quantity), "unit": quantity.unit}
        raise _wrong(
            at=f"{at}/unit", sentence=sentence % {"said": _short(unit), **names}
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
    named = {"label": quantity_name(quantity)}
    looked_at = quantity.kind is Kind.LOOKED_AT
    has_limit = any(limit is not None for limit in limits.values())
    if looked_at and (required is None or has_limit):
        raise _wrong(
            at=f"{at}/required",
            sentence=_("%(label)s is looked at: “yes” or “no”, no limit.") % named,
        )
    if not looked_at and required is not None:
        raise _wrong(
            at=f"{at}/required",
            sentence=_("%(label)s has a limit, not an answer.") % named,
        )
    if not looked_at and limits["lower"] is None and limits["upper"] is None:
        raise _wrong(at=at, sentence=_("a lower or an upper limit is expected."))
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
                at=f"{at}/{name}", sentence=_("the lower limit is above the upper.")
            )


def _classes(rule: Mapping[str, Any], at: str) -> tuple[str, ...]:
    names = rule.get("classes", [])
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        raise _wrong(
            at=f"{at}/classes", sentence=_("a list of class names is expected.")
        )
    if len(set(names)) != len(names):
        raise _wrong(at=f"{at}/classes", sentence=_("a class stands twice."))
    for index, name in enumerate(names):
        if not name.strip():
            raise _wrong(at=f"{at}/classes/{index}", sentence=_("a text is expected."))
        _check_text(name, f"{at}/classes/{index}", longest=LONGEST["class"])
    # In one order, so that the same classes have the same checksum.
    return tuple(sorted(names))


def _condition(rule: Mapping[str, Any], at: str) -> tuple[str, str]:
    if "condition" not in rule:
        return "", ""
    condition, at = rule["condition"], f"{at}/condition"
    _check_keys(condition, at, frozenset({"quantity", "word"}))
    quantity = QUANTITIES.get(str(condition.get("quantity")))
    if quantity is None or quantity.words is None:
        raise _wrong(
            at=f"{at}/quantity",
            sentence=_("“%(short)s” is not a declared word.")
            % {"short": _short(condition.get("quantity"))},
        )
    return quantity.key, _word(condition, at, "word", quantity.words).value


def _refuse_double_numbers(rules: tuple[RuleText, ...]) -> None:
    seen: dict[str, int] = {}
    for index, rule in enumerate(rules):
        if (first := seen.setdefault(rule.number, index)) != index:
            raise _wrong(
                at=f"/rules/{index}/number",
                sentence=_("“%(rule)s” is rule %(n)s's number.")
                % {"rule": rule.number, "n": first + 1},
            )
