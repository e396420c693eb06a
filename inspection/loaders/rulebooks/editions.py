"""Editions as they are judged by, and as they are written to a file."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from inspection.compute.judging import DecisionRule, Rules
from inspection.compute.quantities import (
    QUANTITIES,
    FrontCarrier,
    Layout,
    Quantity,
    columns_of,
)
from inspection.compute.rulebooks import (
    Answer,
    Evidence,
    Force,
    RulebookText,
    RuleText,
    Stage,
)
from inspection.compute.stance import Field
from inspection.models import Edition, Rule
from inventory.compute.numbers import from_millionths, to_millionths


@dataclass(frozen=True, kw_only=True)
class LoadedRule:
    """One rule with its limits as floats, in its quantity's unit."""

    pk: int
    position: int
    number: str
    sentence: str
    quantity: Quantity
    lower: float | None
    upper: float | None
    lower_after: float | None
    upper_after: float | None
    required: Answer | None
    force: Force
    stage: Stage
    evidence: Evidence
    class_ids: frozenset[int]
    class_names: tuple[str, ...]
    condition_key: str
    condition_word: str

    @property
    def is_mandatory(self) -> bool:
        return self.force is Force.MANDATORY

    def limits(self, stage: Stage) -> tuple[float | None, float | None]:
        """Give the lower and upper limit at a stage; an answer is 1 or 0."""
        if self.required is not None:
            wanted = float(self.required is Answer.YES)
            return wanted, wanted
        if stage is not Stage.AFTER:
            return self.lower, self.upper
        lower = self.lower if self.lower_after is None else self.lower_after
        upper = self.upper if self.upper_after is None else self.upper_after
        return lower, upper

    def is_of_class(self, class_id: int) -> bool:
        """Whether it speaks of a class; without any it speaks of all."""
        return not self.class_ids or class_id in self.class_ids

    def applies_to(
        self, *, class_id: int, layout: Layout, carrier: FrontCarrier
    ) -> bool:
        if not self.is_of_class(class_id):
            return False
        words = {"layout": layout.value, "front_carrier": carrier.value}
        return words.get(self.condition_key, self.condition_word) == self.condition_word


@dataclass(frozen=True, kw_only=True)
class LoadedEdition:
    """An edition with its rules in order."""

    pk: int
    name: str
    rulebook: str
    number: int
    sha256: str
    decision_rule: DecisionRule
    confidence: float
    rules: tuple[LoadedRule, ...]

    def at(self, stage: Stage) -> tuple[LoadedRule, ...]:
        """Give the rules that are asked at a stage."""
        return tuple(r for r in self.rules if r.stage in {Stage.BOTH, stage})


def load_edition(edition: Edition) -> LoadedEdition:
    """
    Load an edition; a published one is read from the database once.

    Its checksum is part of the key: another database's edition of the same
    number is another edition.
    """
    if edition.is_published:
        return _published(edition.pk, edition.sha256)
    return read_edition(edition)


@lru_cache(maxsize=64)
def _published(pk: int, sha256: str) -> LoadedEdition:
    return read_edition(
        Edition.objects.select_related("rulebook").get(pk=pk, sha256=sha256)
    )


def forget_editions() -> None:
    """Read published editions anew, where another database is in use from now on."""
    _published.cache_clear()


def read_edition(edition: Edition) -> LoadedEdition:
    """Read an edition from the database as it is there now."""
    rows = Rule.objects.filter(edition=edition).prefetch_related(
        "rule_classes__race_class"
    )
    return LoadedEdition(
        pk=edition.pk,
        name=str(edition),
        rulebook=edition.rulebook.name,
        number=edition.number,
        sha256=edition.sha256,
        decision_rule=edition.decision_rule,
        confidence=float(edition.confidence),
        rules=tuple(_rule(row) for row in rows),
    )


def _rule(row: Rule) -> LoadedRule:
    classes = [link.race_class for link in row.rule_classes.all()]
    return LoadedRule(
        pk=row.pk,
        position=row.position,
        number=row.number,
        sentence=row.sentence,
        quantity=QUANTITIES[row.quantity],
        lower=to_float(row.lower),
        upper=to_float(row.upper),
        lower_after=to_float(row.lower_after),
        upper_after=to_float(row.upper_after),
        required=row.required or None,
        force=row.force,
        stage=row.stage,
        evidence=row.evidence,
        class_ids=frozenset(race_class.pk for race_class in classes),
        class_names=tuple(race_class.name for race_class in classes),
        condition_key=row.condition_key,
        condition_word=row.condition_word,
    )


def to_float(millionths: int | None) -> float | None:
    """Turn stored millionths into the unit; nothing stays nothing."""
    return None if millionths is None else from_millionths(millionths)


def rules_as_arrays(
    edition: LoadedEdition,
    rules: tuple[LoadedRule, ...],
    *,
    stage: Stage,
    columns: tuple[str, ...],
    applies: "np.ndarray[tuple[int, int], np.dtype[np.bool_]]",
) -> Rules:
    """Write rules as arrays for ``evaluate``; ``applies`` is (cars, rules)."""
    limits = [rule.limits(stage) for rule in rules]
    place = {column: index for index, column in enumerate(columns)}
    return Rules(
        lower=np.array([np.nan if low is None else low for low, _ in limits]),
        upper=np.array([np.nan if high is None else high for _, high in limits]),
        column=np.array(
            [place[columns_of(rule.quantity.key)[0]] for rule in rules], dtype=np.int64
        ),
        mandatory=np.array([rule.is_mandatory for rule in rules], dtype=np.bool_),
        taken_only=np.array(
            [rule.evidence is Evidence.TAKEN_ONLY for rule in rules], dtype=np.bool_
        ),
        applies=applies,
        decision_rule=edition.decision_rule,
        confidence=edition.confidence,
    )


def rules_of_field(
    edition: LoadedEdition, rules: tuple[LoadedRule, ...], field: Field, *, stage: Stage
) -> Rules:
    """Write rules that speak of each car of a field as arrays."""
    return rules_as_arrays(
        edition,
        rules,
        stage=stage,
        columns=field.columns,
        applies=np.ones((field.car_count, len(rules)), dtype=np.bool_),
    )


def rulebook_text(edition: Edition) -> RulebookText:
    """Give an edition as its file says it."""
    rows = Rule.objects.filter(edition=edition).prefetch_related(
        "rule_classes__race_class"
    )
    return RulebookText(
        rulebook=edition.rulebook.name,
        edition=edition.number,
        decision_rule=edition.decision_rule,
        confidence=edition.confidence,
        note=edition.note,
        rules=tuple(rule_text(row) for row in rows),
    )


def rule_text(row: Rule) -> RuleText:
    """Give a stored rule as its file says it."""
    names = sorted(link.race_class.name for link in row.rule_classes.all())
    return RuleText(
        number=row.number,
        sentence=row.sentence,
        quantity=row.quantity,
        lower=row.lower,
        upper=row.upper,
        lower_after=row.lower_after,
        upper_after=row.upper_after,
        required=row.required or None,
        force=row.force,
        stage=row.stage,
        evidence=row.evidence,
        classes=tuple(names),
        condition_key=row.condition_key,
        condition_word=row.condition_word,
    )


def rule_as_text(rule: LoadedRule) -> RuleText:
    """Give a loaded rule as its file says it; its floats are whole millionths."""
    limits = {
        name: None if limit is None else to_millionths(limit)
        for name, limit in (
            ("lower", rule.lower),
            ("upper", rule.upper),
            ("lower_after", rule.lower_after),
            ("upper_after", rule.upper_after),
        )
    }
    return RuleText(
        number=rule.number,
        sentence=rule.sentence,
        quantity=rule.quantity.key,
        **limits,
        required=rule.required,
        force=rule.force,
        stage=rule.stage,
        evidence=rule.evidence,
        classes=tuple(sorted(rule.class_names)),
        condition_key=rule.condition_key,
        condition_word=rule.condition_word,
    )
