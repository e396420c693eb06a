"""A sheet as it stands: what is asked, what was read, what each rule says."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Final

from inspection.compute.asking import ReadingsToTake, readings_to_take
from inspection.compute.judging import JUDGING, Outcome
from inspection.compute.quantities import (
    QUANTITIES,
    FrontCarrier,
    Keeps,
    Kind,
    Quantity,
    Source,
    column_owner,
    columns_of,
)
from inspection.compute.rulebooks import Evidence, Stage
from inspection.compute.stance import Field, inputs_of
from inspection.loaders.block.car_words import words_of_car
from inspection.loaders.block.doubts import Doubt, doubts_among
from inspection.loaders.block.fields import field_of
from inspection.loaders.block.findings import (
    RuleFinding,
    findings_of,
    judging_of,
    stored_findings,
    with_all_evidence,
    with_evidence,
)
from inspection.loaders.block.readings import load_readings
from inspection.loaders.block.sealed_values import (
    ClockSet,
    clock_set_in,
    values_of_content,
    with_names,
)
from inspection.loaders.block.values import ColumnValue, values_of_sheet
from inspection.loaders.rulebooks.editions import (
    LoadedEdition,
    LoadedRule,
    load_edition,
)
from inspection.models import Sheet, SheetQuerySet, SheetReading
from inspection.words.quantities import column_name
from inventory.loaders.prepared import STAND_IN_NAME, Prepared


@dataclass(frozen=True, kw_only=True)
class LoadedSheet:
    """A sheet with all that the page, the seal and the API say of it."""

    sheet: Sheet
    edition: LoadedEdition
    rules: tuple[LoadedRule, ...]
    to_take: ReadingsToTake
    readings: list[SheetReading]
    values: dict[str, ColumnValue]
    field: Field
    findings: tuple[RuleFinding, ...]
    judging: int = JUDGING
    clock_set: ClockSet | None = None
    reason: str = ""
    doubts: tuple[Doubt, ...] = ()

    @property
    def is_of_older_judging(self) -> bool:
        """Whether the findings are those of the seal, put when judging was other."""
        return self.judging != JUDGING

    @cached_property
    def waiting_columns(self) -> tuple[str, ...]:
        """Columns that tonight still asks, in the order of least handling."""
        return tuple(c for c in self.to_take.tonight if c not in self.values_tonight)

    @cached_property
    def unread(self) -> tuple[str, ...]:
        """
        Columns that are asked and that nothing stands in for: no car passes so.

        What a keeper or a scrutineer stored may stand in where no rule wants the
        reading taken; it is named on the sheet.
        """
        wanted = columns_to_be_taken(self.rules)
        carrier = self.sheet.entry.car.front_carrier
        keys = {f.rule.quantity.key for f in self.findings if not f.is_taken}
        # Where a slip under the car has decided, what it is else worked out from
        # need not be read.
        needed = wanted.union(*(inputs_of(key, carrier) for key in keys))
        return tuple(
            column
            for column in self.waiting_columns
            if column in needed and (column in wanted or not self._stands(column))
        )

    @property
    def unread_labels(self) -> tuple[str, ...]:
        return tuple(column_name(column) for column in self.unread)

    @cached_property
    def standing_in(self) -> tuple[ColumnValue, ...]:
        """Values that were stored before and stand in for a reading of tonight."""
        return tuple(
            self.values[column]
            for column in self.waiting_columns
            if column not in self.unread and self._stands(column)
        )

    def _stands(self, column: str) -> bool:
        value = self.values.get(column)
        return value is not None and not value.is_only_declared

    @cached_property
    def values_tonight(self) -> frozenset[str]:
        """Columns that have an unstruck reading on this sheet."""
        return frozenset(c for c, value in self.values.items() if value.reading_ids)

    @cached_property
    def refused(self) -> tuple[RuleFinding, ...]:
        return tuple(finding for finding in self.findings if finding.keeps_from_passing)

    @cached_property
    def unconfirmed(self) -> tuple[ColumnValue, ...]:
        """What the car is, as far as a mandatory rule waits for who looks at it."""
        waiting = {v.column: v for finding in self.refused for v in finding.unconfirmed}
        return tuple(waiting.values())

    @cached_property
    def conflicts(self) -> tuple[ColumnValue, ...]:
        return tuple(v for v in self.values.values() if v.has_conflict)

    @property
    def may_pass(self) -> bool:
        open_points = (self.refused, self.conflicts, self.unread, self.doubts)
        return not any(open_points)

    @property
    def may_be_sent_back(self) -> bool:
        """Whether something read for this sheet speaks against the car."""
        return any(
            finding.is_of_tonight and finding.outcome is not Outcome.NOT_MEASURED
            for finding in self.refused
        )

    @cached_property
    def doubtful_ids(self) -> frozenset[int]:
        """Readings whose gauge failed the next check it had; of an open sheet."""
        return frozenset(pk for doubt in self.doubts for pk in doubt.reading_ids)


def sheets_to_load() -> SheetQuerySet:
    """Sheets with all that loading one needs besides its readings."""
    sheets = Sheet.objects.select_related(
        "entry__car__owner",
        "entry__driver",
        "entry__night",
        "entry__race_class",
        "edition__rulebook",
        "block",
        "started_by",
        "previous",
        "seal__sealed_by",
        "seal__signed",
        "void__by",
        "protest_sheet",
    )
    return sheets.knowing_of_family().knowing_of_own_scatter()


def _sheet_of(number: str) -> SheetQuerySet:
    return sheets_to_load().filter(number=number)


_OF_NUMBER: Final[Prepared[Sheet]] = Prepared(_sheet_of, STAND_IN_NAME)


def sheet_of_number(number: str) -> Sheet | None:
    """Give the sheet of a number as ``load_sheet`` takes it, if there is one."""
    return next(iter(_OF_NUMBER.rows(number)), None)


def asked_of(edition: LoadedEdition, sheet: Sheet) -> tuple[LoadedRule, ...]:
    """Give the rules of the sheet's stage that speak of its class and car."""
    entry = sheet.entry
    class_id, layout = entry.race_class_id, entry.car.layout
    carrier = entry.car.front_carrier
    return tuple(
        rule
        for rule in edition.at(sheet.stage)
        if rule.applies_to(class_id=class_id, layout=layout, carrier=carrier)
    )


def readings_asked(rules: tuple[LoadedRule, ...], sheet: Sheet) -> ReadingsToTake:
    """Give the columns that the rules need, tonight's apart from stored ones."""
    return _to_take(
        tuple(rule.quantity.key for rule in rules),
        tuple(r.quantity.key for r in rules if r.evidence is Evidence.TAKEN_ONLY),
        sheet.entry.car.front_carrier,
    )


# Cars of one class and edition are asked for the same.
@lru_cache(maxsize=1_000)
def _to_take(
    keys: tuple[str, ...], taken: tuple[str, ...], carrier: FrontCarrier
) -> ReadingsToTake:
    return readings_to_take(keys, taken=taken, front_carrier=carrier)


def columns_to_be_taken(rules: Iterable[LoadedRule]) -> frozenset[str]:
    """Give the columns that a rule wants taken, whatever is stored of them."""
    return frozenset(
        column
        for rule in rules
        if rule.evidence is Evidence.TAKEN_ONLY
        for column in columns_of(rule.quantity.key)
    )


def _read_anew_after_the_race(
    values: Mapping[str, ColumnValue], asked: ReadingsToTake, stage: Stage
) -> dict[str, ColumnValue]:
    """
    After the race, let nothing stand for what a night changes but its reading.

    A tyre wears and a weight falls off: neither the sheet before nor the inventory
    says how they are now.  Stored geometry stays, for what is derived from it.
    """
    if stage is Stage.BEFORE:
        return dict(values)
    anew = {c for c in asked.tonight if quantity_of(c).keeps is Keeps.TONIGHT}
    return {
        column: value
        for column, value in values.items()
        if value.source is Source.TAKEN or column not in anew
    }


def _less_what_parts_say(
    asked: ReadingsToTake,
    rules: tuple[LoadedRule, ...],
    values: Mapping[str, ColumnValue],
) -> ReadingsToTake:
    """
    Leave what a fitted part was measured for, and keeps, to the record.

    It may still be taken.  What wears in a night is asked whatever the part was, and
    so is what a rule wants taken.
    """
    wanted = columns_to_be_taken(rules)
    known = tuple(
        column
        for column in asked.tonight
        if column in values
        and values[column].source is Source.FITTED_PART
        and quantity_of(column).keeps is Keeps.UNTIL_REFITTED
        and column not in wanted
    )
    tonight = tuple(column for column in asked.tonight if column not in known)
    return replace(asked, tonight=tonight, stored=(*known, *asked.stored))


def inputs_of_rules(rules: Iterable[LoadedRule], sheet: Sheet) -> frozenset[str]:
    """Give every column that a rule of the sheet may rest on."""
    carrier = sheet.entry.car.front_carrier
    keys = {rule.quantity.key for rule in rules}
    return frozenset().union(*(inputs_of(key, carrier) for key in keys))


def _and_what_is_declared(
    asked: ReadingsToTake,
    findings: Iterable[RuleFinding],
    *,
    readings: Iterable[SheetReading],
    takeable: Iterable[str],
) -> ReadingsToTake:
    """
    Ask as well what a finding rests on and nobody has read; a word is not read.

    Once read it is declared no more, and stays among what was asked.
    """
    known = {*asked.tonight, *asked.stored}
    declared = (value for finding in findings for value in finding.declared)
    columns = [one.column for one in declared if one.quantity.words is None]
    may_be_taken = set(takeable)
    columns += [one.column for one in readings if one.column not in may_be_taken]
    more = dict.fromkeys(column for column in columns if column not in known)
    return replace(asked, stored=(*asked.stored, *more))


def takeable_of(rules: tuple[LoadedRule, ...], asked: ReadingsToTake) -> list[str]:
    """Give the columns that a rule derives but that may be taken as well."""
    known = {*asked.tonight, *asked.stored}
    return [
        column
        for rule in rules
        if rule.quantity.kind is Kind.TAKEN_OR_DERIVED
        for column in columns_of(rule.quantity.key)
        if column not in known
    ]


def findings_by(edition: LoadedEdition, loaded: LoadedSheet) -> tuple[RuleFinding, ...]:
    """Give what another edition says of the values that a sheet rests on."""
    rules = asked_of(edition, loaded.sheet)
    return findings_of(edition, rules, loaded.field, loaded.sheet.stage)


def load_sheet(
    sheet: Sheet,
    readings: list[SheetReading] | None = None,
    *,
    is_anew: bool = False,
) -> LoadedSheet:
    """
    Load a sheet and evaluate its rules; one from ``sheets_to_load``.

    A sealed sheet is judged again from its own content, unless judging has changed
    since: then the findings are those that its content holds.  A void one says
    nothing: its readings count nowhere.  ``is_anew`` judges all of it anew, for a seal.
    """
    edition = load_edition(sheet.edition)
    rules = () if sheet.is_void else asked_of(edition, sheet)
    asked = readings_asked(rules, sheet)
    if readings is None:
        readings = load_readings(sheet)
    own = [reading for reading in readings if reading.sheet_id == sheet.pk]
    sealed = json.loads(sheet.seal.content) if sheet.is_sealed else None
    judging = JUDGING if sealed is None else judging_of(sealed)
    values: dict[str, ColumnValue] = {}
    if sealed is not None:
        values = with_names(values_of_content(sealed))
    elif not sheet.is_void:
        values = values_of_sheet(sheet, own)
        values |= words_of_car(sheet.entry.car, values)
        values = _read_anew_after_the_race(values, asked, sheet.stage)
    field = field_of(values)
    is_judged = judging == JUDGING
    findings = (
        findings_of(edition, rules, field, sheet.stage, is_anew=is_anew)
        if is_judged
        else stored_findings(edition, sealed or {})
    )
    if values and is_judged:
        bound = edition, sheet.stage, sheet.entry.race_class_id
        findings = with_all_evidence(findings, *bound, values)
    elif findings:
        findings = with_evidence(findings, values, is_judged=False)
    to_take = _less_what_parts_say(asked, rules, values)
    return LoadedSheet(
        sheet=sheet,
        edition=edition,
        rules=rules,
        to_take=_and_what_is_declared(
            to_take, findings, readings=own, takeable=takeable_of(rules, to_take)
        ),
        readings=own,
        values=values,
        field=field,
        findings=findings,
        judging=judging,
        clock_set=clock_set_in(sealed or {}),
        reason=(sealed or {}).get("reason", ""),
        doubts=() if sealed is not None or sheet.is_void else doubts_among(own),
    )


def quantity_of(column: str) -> Quantity:
    """Give the quantity that a column belongs to."""
    return QUANTITIES[column_owner(column)[0]]
