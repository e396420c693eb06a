"""Seals of a night held against the rows of their sheets."""

import json
import zlib
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import rfc8785
from django.db import DatabaseError

from inspection.compute.judging import JUDGING
from inspection.compute.night import Decision, Difference, Link, differing, link_holds
from inspection.compute.rulebooks import Stage
from inspection.loaders.block.findings import judging_of
from inspection.loaders.rulebooks.editions import LoadedEdition, read_edition
from inspection.loaders.seals.judged_again import (
    SealedContent,
    judged_again,
    limits_of,
)
from inspection.loaders.seals.sealed_rows import (
    SealedRows,
    as_the_first_said,
    load_sealed_rows,
    sealed_facts,
    stored_facts,
)
from inspection.models import RaceNight, Seal, Sheet

#: What reading something that was tampered with can end in.
UNREADABLE = (
    ArithmeticError,
    AttributeError,
    DatabaseError,
    LookupError,
    TypeError,
    ValueError,
    zlib.error,
)


@dataclass(frozen=True, kw_only=True)
class _Sheet:
    rows: SealedRows
    content: dict[str, Any]


def differences_of_night(night: RaceNight) -> list[Difference]:
    """Hold a night's whole chain and each of its sheets; nothing when all holds."""
    names = _names_of(night)
    try:
        rows = load_sealed_rows(names)
    except UNREADABLE:
        rows = []
    if len(rows) == len(names):
        return [*_broken_links(rows), *differences_of_rows(rows)]
    return [*_one_by_one(names)]


def _names_of(night: RaceNight) -> dict[int, str]:
    """Name each seal of a night by its sheet, also where it points to none."""
    seals = Seal.objects.filter(night=night).order_by("sequence", "pk")
    keys = list(seals.values_list("pk", "sheet_id"))
    numbers = dict(
        Sheet.objects.filter(pk__in=[sheet for _, sheet in keys]).values_list(
            "pk", "number"
        )
    )
    return {
        key: numbers.get(sheet) or f"seal {place} of {night}"
        for place, (key, sheet) in enumerate(keys, 1)
    }


def _one_by_one(names: dict[int, str]) -> Iterator[Difference]:
    """Find which sheets of a night cannot be read."""
    readable = []
    for key, number in names.items():
        try:
            (rows,) = load_sealed_rows([key])
        except UNREADABLE as error:
            yield Difference(of=number, says=f"its rows cannot be read: {error}")
        else:
            readable.append(rows)
    yield from differences_of_rows(readable)


def differences_of_sheet(seal: Seal) -> list[Difference]:
    """Hold one sheet's seal, with its link to the one before."""
    number = seal.sheet.number
    try:
        (rows,) = load_sealed_rows([seal.pk])
    except UNREADABLE as error:
        return [Difference(of=number, says=f"its rows cannot be read: {error}")]
    before = Seal.objects.filter(night=seal.night_id, sequence__lt=seal.sequence)
    last = before.order_by("-sequence").values_list("sequence", "sha256").first()
    sequence, sha256 = last or (0, "")
    return [*_broken_link(rows.seal, sequence, sha256), *differences_of_rows([rows])]


def _broken_links(rows: Iterable[SealedRows]) -> Iterator[Difference]:
    sequence, sha256 = 0, ""
    for one in rows:
        yield from _broken_link(one.seal, sequence, sha256)
        sequence, sha256 = one.seal.sequence, one.seal.sha256


def _broken_link(seal: Seal, sequence: int, sha256: str) -> Iterator[Difference]:
    number = seal.sheet.number
    if seal.sequence != sequence + 1:
        yield Difference(
            of=number,
            says=f"seal {seal.sequence} of its night stands behind seal {sequence}",
        )
    if seal.previous_sha256 != sha256:
        yield Difference(of=number, says="it is not linked to the seal before it")


def differences_of_rows(sheets: Sequence[SealedRows]) -> Iterator[Difference]:
    """Hold each seal's content by its hash, its rows, its rules and its judging."""
    parsed: list[_Sheet] = []
    for rows in sheets:
        number = rows.seal.sheet.number
        yield from _said(number, _content_itself, rows)
        try:
            one = _Sheet(rows=rows, content=json.loads(rows.seal.content))
            sentences = [*_against_rows(one)]
        except UNREADABLE as error:
            sentences = [f"its content cannot be read as a sheet: {error!r}"]
        else:
            parsed.append(one)
        yield from (Difference(of=number, says=says) for says in sentences)
    by_edition: dict[int, list[_Sheet]] = defaultdict(list)
    for one in parsed:
        by_edition[one.rows.seal.sheet.edition_id].append(one)
    for group in by_edition.values():
        yield from _against_edition(group)


def _said(
    number: str, look: Callable[[SealedRows], Iterator[str]], rows: SealedRows
) -> Iterator[Difference]:
    try:
        sentences = [*look(rows)]
    except UNREADABLE as error:
        sentences = [f"it cannot be read: {error!r}"]
    yield from (Difference(of=number, says=says) for says in sentences)


def _content_itself(rows: SealedRows) -> Iterator[str]:
    seal = rows.seal
    link = Link(
        content=seal.content,
        previous_sha256=seal.previous_sha256,
        sha256=seal.sha256,
    )
    if not link_holds(link):
        yield "its content does not hash to what the seal says"
    if rfc8785.dumps(json.loads(seal.content)).decode() != seal.content:
        yield "its content is not in its one canonical form"


def _against_rows(one: _Sheet) -> Iterator[str]:
    content = one.content
    stored = as_the_first_said(stored_facts(one.rows), content)
    yield from differing(sealed_facts(content), stored)
    if content["decision"] == Decision.PASSED:
        yield from (
            f"it passed with rule {row['rule']}, which is mandatory, not admitted"
            for row in content["findings"]
            if row["force"] == "mandatory" and not row["admitted"]
        )


def _against_edition(group: list[_Sheet]) -> Iterator[Difference]:
    """Hold findings by the published rules, and judge again under today's number."""
    row = group[0].rows.seal.sheet.edition
    try:
        edition = read_edition(row)
    except UNREADABLE as error:
        says = f"its edition, {row}, cannot be read: {error!r}"
        for one in group:
            yield Difference(of=one.rows.seal.sheet.number, says=says)
        return
    for one in group:
        number = one.rows.seal.sheet.number
        yield from (
            Difference(of=number, says=says) for says in _against_limits(edition, one)
        )
    again = [one for one in group if judging_of(one.content) == JUDGING]
    yield from _judged_again(edition, again)


def _against_limits(edition: LoadedEdition, one: _Sheet) -> Iterator[str]:
    rules = {rule.number: rule for rule in edition.rules}
    stage = Stage(one.content["procedure"]["stage"])
    for row in one.content["findings"]:
        rule = rules.get(row["rule"])
        if rule is None:
            yield f"rule {row['rule']} is not in {edition.name}"
            continue
        limits = limits_of(rule, stage)
        yield from differing(
            {key: row[key] for key in limits}, limits, at=f"rule {rule.number}"
        )


def _judged_again(edition: LoadedEdition, group: list[_Sheet]) -> Iterator[Difference]:
    contents = [
        SealedContent(
            text=one.rows.seal.content,
            content=one.content,
            class_id=one.rows.seal.sheet.entry.race_class_id,
        )
        for one in group
    ]
    try:
        judged = judged_again(edition, contents)
    except UNREADABLE as error:
        if len(group) > 1:
            for one in group:
                yield from _judged_again(edition, [one])
            return
        judged = []
        says = f"it cannot be judged again: {error!r}"
        yield Difference(of=group[0].rows.seal.sheet.number, says=says)
    for one, findings in zip(group, judged, strict=False):
        now_by_rule = {row["rule"]: row for row in findings}
        sealed_by_rule = {row["rule"]: row for row in one.content["findings"]}
        for says in differing(
            sealed_by_rule, now_by_rule, at="judged again, rule", is_near_enough=True
        ):
            yield Difference(of=one.rows.seal.sheet.number, says=says)
