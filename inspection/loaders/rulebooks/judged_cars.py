"""Stored cars judged by one edition, or by two that share their rules."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inspection.compute.judging import Findings, Outcome, Rules, admits, evaluate
from inspection.compute.quantities import COLUMNS, QUANTITIES
from inspection.compute.rulebooks import Stage, found_of_cars
from inspection.loaders.rulebooks.editions import (
    LoadedEdition,
    LoadedRule,
    rules_as_arrays,
)
from inspection.loaders.rulebooks.stored_cars import StoredCars


@dataclass(frozen=True, kw_only=True, eq=False)
class Judged:
    """What one edition finds of the stored cars; arrays as in Findings."""

    rules: tuple[LoadedRule, ...]
    outcome: NDArray[np.int8]
    admitted: NDArray[np.bool_]
    margin: NDArray[np.float64]
    value: NDArray[np.float64]
    u: NDArray[np.float64]
    found: NDArray[np.int8]

    @property
    def is_about(self) -> NDArray[np.bool_]:
        """Which rule speaks of which car."""
        about: NDArray[np.bool_] = self.outcome != Outcome.NOT_APPLICABLE.code
        return about

    @property
    def refused(self) -> NDArray[np.bool_]:
        """Which rule refuses which car, not for want of a reading."""
        refused: NDArray[np.bool_] = ~self.admitted & (
            self.outcome != Outcome.NOT_MEASURED.code
        )
        return refused

    @property
    def mandatory(self) -> NDArray[np.bool_]:
        return np.array([rule.is_mandatory for rule in self.rules], dtype=np.bool_)


def judge_by(
    editions: Sequence[LoadedEdition], stored: StoredCars, stage: Stage
) -> tuple[Judged, Judged | None]:
    """
    Judge the cars by one edition or two.

    Rules that both have are judged once; all in one evaluation, unless the two
    have different guard bands.
    """
    first = editions[0]
    if len(editions) == 1:
        return _judge(editions, stored, stage)[0], None
    if editions[1].confidence == first.confidence:
        one, other = _judge(editions, stored, stage)
        return one, other
    apart = (_judge([edition], stored, stage)[0] for edition in editions)
    return next(apart), next(apart)


def _judge(
    editions: Sequence[LoadedEdition], stored: StoredCars, stage: Stage
) -> list[Judged]:
    asked = [edition.at(stage) for edition in editions]
    distinct: dict[Hashable, LoadedRule] = {}
    for rule in (rule for rules in asked for rule in rules):
        distinct.setdefault(_said_by(rule, stage), rule)
    places = {key: place for place, key in enumerate(distinct)}
    findings = evaluate_stored(editions[0], tuple(distinct.values()), stored, stage)
    return [
        _judged(
            edition,
            rules,
            findings,
            np.array([places[_said_by(r, stage)] for r in rules], dtype=np.intp),
        )
        for edition, rules in zip(editions, asked, strict=True)
    ]


def _said_by(rule: LoadedRule, stage: Stage) -> Hashable:
    """Give all that the outcome of a rule depends on."""
    return (
        rule.quantity.key,
        rule.limits(stage),
        rule.evidence,
        rule.class_ids,
        rule.condition_key,
        rule.condition_word,
    )


def evaluate_stored(
    edition: LoadedEdition,
    rules: tuple[LoadedRule, ...],
    stored: StoredCars,
    stage: Stage,
) -> Findings:
    """Evaluate rules on every stored car."""
    return evaluate(arrays_of(edition, rules, stored, stage), stored.field)


def arrays_of(
    edition: LoadedEdition,
    rules: tuple[LoadedRule, ...],
    stored: StoredCars,
    stage: Stage,
) -> Rules:
    """Write rules as arrays, each for the cars that it speaks of."""
    return rules_as_arrays(
        edition, rules, stage=stage, columns=COLUMNS, applies=_applies(rules, stored)
    )


def _applies(rules: tuple[LoadedRule, ...], stored: StoredCars) -> NDArray[np.bool_]:
    class_ids = np.array([car.class_id for car in stored.cars], dtype=np.int64)
    applies = np.ones((len(class_ids), len(rules)), dtype=np.bool_)
    for place, rule in enumerate(rules):
        if rule.class_ids:
            applies[:, place] = np.isin(class_ids, list(rule.class_ids))
        words = rule.condition_key and QUANTITIES[rule.condition_key].words
        if words:
            declared = stored.field.value[:, COLUMNS.index(rule.condition_key)]
            code = [str(word) for word in words].index(rule.condition_word)
            # A car of which the word was never declared is asked, as on the block.
            applies[:, place] &= np.isnan(declared) | (declared == code)
    return applies


def _judged(
    edition: LoadedEdition,
    rules: tuple[LoadedRule, ...],
    findings: Findings,
    places: NDArray[np.intp],
) -> Judged:
    outcome = findings.outcome[:, places]
    admitted = admits(outcome, edition.decision_rule)
    mandatory = np.array([rule.is_mandatory for rule in rules], dtype=np.bool_)
    return Judged(
        rules=rules,
        outcome=outcome,
        admitted=admitted,
        margin=findings.margin[:, places],
        value=findings.value[:, places],
        u=findings.u[:, places],
        found=found_of_cars(outcome, admitted, mandatory),
    )
