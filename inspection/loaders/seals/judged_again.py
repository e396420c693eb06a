"""Sealed sheets judged again from their contents, a night's at once."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from inspection.compute.quantities import QUANTITIES, FrontCarrier, Layout
from inspection.compute.rulebooks import Stage
from inspection.compute.stance import Field
from inspection.loaders.block.fields import field_of
from inspection.loaders.block.findings import (
    findings_of_field,
    with_all_evidence,
)
from inspection.loaders.block.sealed_values import sealed_values
from inspection.loaders.block.seals import finding_as_json, whole
from inspection.loaders.rulebooks.editions import LoadedEdition, LoadedRule
from inventory.compute.numbers import MILLION


@dataclass(frozen=True, kw_only=True)
class SealedContent:
    """A seal's content, with the class that it was judged in."""

    text: str
    content: Mapping[str, Any]
    class_id: int


def rules_asked(
    edition: LoadedEdition, sealed: SealedContent
) -> tuple[LoadedRule, ...]:
    """Give the rules that speak of the car as its seal describes it."""
    values = {row["column"]: row["value"] for row in sealed.content["values"]}
    layout = _word("layout", values["layout"])
    carrier = _word("front_carrier", values["front_carrier"])
    return tuple(
        rule
        for rule in edition.at(Stage(sealed.content["procedure"]["stage"]))
        if rule.applies_to(
            class_id=sealed.class_id,
            layout=Layout(layout),
            carrier=FrontCarrier(carrier),
        )
    )


def _word(key: str, millionths: int) -> str:
    return str(tuple(QUANTITIES[key].words or ())[millionths // MILLION])


def judged_again(
    edition: LoadedEdition, sheets: Iterable[SealedContent]
) -> list[list[dict[str, Any]]]:
    """
    Judge sheets of one edition from their contents, as the seals say findings.

    The same car gives the same findings alone or among others.
    """
    sheets = list(sheets)
    alike: dict[tuple[str, tuple[LoadedRule, ...]], list[int]] = defaultdict(list)
    for place, sealed in enumerate(sheets):
        stage = sealed.content["procedure"]["stage"]
        alike[stage, rules_asked(edition, sealed)].append(place)
    judged: list[list[dict[str, Any]]] = [[] for _ in sheets]
    for (stage, rules), places in alike.items():
        values = [sealed_values(sheets[place].text) for place in places]
        field = _joined([field_of(values_of_sheet) for values_of_sheet in values])
        findings = findings_of_field(edition, rules, field, Stage(stage))
        for place, row, sheet_values in zip(places, findings, values, strict=True):
            bound = edition, Stage(stage), sheets[place].class_id
            evidenced = with_all_evidence(row, *bound, sheet_values)
            judged[place] = [finding_as_json(one) for one in evidenced]
    return judged


def _joined(rows: list[Field]) -> Field:
    columns = {
        field.name: np.concatenate([getattr(row, field.name) for row in rows])
        for field in fields(Field)
        if field.name != "columns"
    }
    return Field(columns=rows[0].columns, **columns)


def limits_of(rule: LoadedRule, stage: Stage) -> dict[str, Any]:
    """Say of a published rule what each finding of it must say."""
    lower, upper = rule.limits(stage)
    return {
        "quantity": rule.quantity.key,
        "lower": whole(lower),
        "upper": whole(upper),
        "force": rule.force.value,
    }
