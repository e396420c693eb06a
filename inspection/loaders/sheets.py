"""A sheet as it stands: what is asked, what was read, what each rule says."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from django.db.models import QuerySet

from inspection.compute.conformity import Outcome
from inspection.compute.quantities import (
    COLUMNS,
    QUANTITIES,
    FrontCarrier,
    Keeps,
    Kind,
    Layout,
    Quantity,
    ReadingsToTake,
    column_owner,
    columns_of,
    readings_to_take,
)
from inspection.compute.requirements import Evidence, Stage
from inspection.compute.rules import Field, Point, evaluate
from inspection.compute.sources import Source
from inspection.loaders.rulebooks import (
    LoadedEdition,
    LoadedRule,
    load_edition,
    rules_as_arrays,
)
from inspection.loaders.values import (
    ColumnValue,
    GaugeKey,
    load_readings,
    sealed_values,
    values_of_sheet,
)
from inspection.models import Car, Sheet, SheetReading
from inventory.compute.units import format_value

OUTCOMES, POINTS = tuple(Outcome), tuple(Point)


@dataclass(frozen=True, kw_only=True)
class RuleFinding:
    """What one rule says of the car, in the rule's unit."""

    rule: LoadedRule
    lower: float | None
    upper: float | None
    outcome: Outcome
    is_admitted: bool
    is_taken: bool
    value: float | None
    u_value: float | None
    margin: float | None
    guard_band: float | None
    probability: float | None
    point: Point | None
    derived: float | None
    disagrees: bool

    @property
    def short_by(self) -> str:
        """Distance to the nearest limit, without its sign, as it is shown."""
        return "" if self.margin is None else self._text(abs(self.margin))

    @property
    def lower_text(self) -> str:
        return "" if self.lower is None else self._text(self.lower)

    @property
    def upper_text(self) -> str:
        return "" if self.upper is None else self._text(self.upper)

    def _text(self, value: float) -> str:
        quantity = self.rule.quantity
        return format_value(value, decimals=quantity.decimals, unit=quantity.unit)

    @property
    def holds_up(self) -> bool:
        """Whether this finding alone keeps the car from passing."""
        return (
            self.rule.is_mandatory
            and self.outcome is not Outcome.NOT_APPLICABLE
            and not self.is_admitted
        )


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

    @cached_property
    def waiting_columns(self) -> tuple[str, ...]:
        """Columns that tonight still asks, in the order of least handling."""
        return tuple(c for c in self.to_take.tonight if c not in self.values_tonight)

    @cached_property
    def values_tonight(self) -> frozenset[str]:
        """Columns that have an unstruck reading on this sheet."""
        return frozenset(c for c, value in self.values.items() if value.reading_ids)

    @property
    def refused(self) -> tuple[RuleFinding, ...]:
        return tuple(finding for finding in self.findings if finding.holds_up)

    @property
    def conflicts(self) -> tuple[ColumnValue, ...]:
        return tuple(v for v in self.values.values() if v.has_conflict)

    @property
    def may_pass(self) -> bool:
        return not self.refused and not self.conflicts


def sheets_to_load() -> QuerySet[Sheet]:
    """Sheets with all that loading one needs besides its readings."""
    return Sheet.objects.select_related(
        "entry__car__owner",
        "entry__driver",
        "entry__night",
        "entry__race_class",
        "edition__rulebook",
        "block",
        "started_by",
        "previous",
        "seal__sealed_by",
    )


def asked_of(edition: LoadedEdition, sheet: Sheet) -> tuple[LoadedRule, ...]:
    """Give the rules of the sheet's stage that speak of its class and car."""
    car = sheet.entry.car
    return tuple(
        rule
        for rule in edition.at(Stage(sheet.stage))
        if rule.applies_to(
            class_id=sheet.entry.race_class_id,
            layout=Layout(car.layout),
            carrier=FrontCarrier(car.front_carrier),
        )
    )


def readings_asked(rules: tuple[LoadedRule, ...], sheet: Sheet) -> ReadingsToTake:
    """Give the columns that the rules need, tonight's apart from stored ones."""
    return readings_to_take(
        [rule.quantity.key for rule in rules],
        taken=[r.quantity.key for r in rules if r.evidence is Evidence.TAKEN_ONLY],
        front_carrier=FrontCarrier(sheet.entry.car.front_carrier),
    )


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
    wanted = {
        column
        for rule in rules
        if rule.evidence is Evidence.TAKEN_ONLY
        for column in columns_of(rule.quantity.key)
    }
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


def load_sheet(sheet: Sheet, readings: list[SheetReading] | None = None) -> LoadedSheet:
    """Load a sheet and evaluate its rules; one from ``sheets_to_load``."""
    edition = load_edition(sheet.edition)
    rules = asked_of(edition, sheet)
    if readings is None:
        readings = load_readings(sheet)
    own = [reading for reading in readings if reading.sheet_id == sheet.pk]
    if sheet.is_sealed:
        values = sealed_values(sheet.seal.content)
    else:
        values = values_of_sheet(sheet, own) | declared_values(sheet.entry.car)
    field = field_of(values)
    return LoadedSheet(
        sheet=sheet,
        edition=edition,
        rules=rules,
        to_take=_less_what_parts_say(readings_asked(rules, sheet), rules, values),
        readings=own,
        values=values,
        field=field,
        findings=_findings(edition, rules, field, Stage(sheet.stage)),
    )


def quantity_of(column: str) -> Quantity:
    """Give the quantity that a column belongs to."""
    return QUANTITIES[column_owner(column)[0]]


def field_of(values: Mapping[str, ColumnValue]) -> Field:
    """
    Write one car's values as the one-row field that ``evaluate`` takes.

    Rounded to the millionths that a seal keeps, so that a sealed sheet gives the
    same findings again, to the digit.
    """
    shape = (1, len(COLUMNS))
    value, random = np.full(shape, np.nan), np.zeros(shape)
    systematic, gauge = np.zeros(shape), np.full(shape, -1, dtype=np.int64)
    bound = np.zeros(shape, dtype=np.int8)
    numbers = gauge_numbers(values)
    for index, column in enumerate(COLUMNS):
        found = values.get(column)
        if found is None:
            continue
        if found.went_under is not None:
            bound[0, index] = 1 if found.went_under else -1
        value[0, index] = round(found.value, 6)
        random[0, index] = round(found.random, 6)
        systematic[0, index] = round(found.systematic, 6)
        if found.gauge is not None:
            gauge[0, index] = numbers[found.gauge]
    return Field(
        quantities=COLUMNS,
        value=value,
        random=random,
        systematic=systematic,
        gauge=gauge,
        bound=bound,
    )


def gauge_numbers(values: Mapping[str, ColumnValue]) -> dict[GaugeKey, int]:
    """Give each gauge of a car's values a number, in the order of the columns."""
    keys = (values[column].gauge for column in COLUMNS if column in values)
    known = dict.fromkeys(key for key in keys if key is not None)
    return {key: number for number, key in enumerate(known)}


def declared_values(car: Car) -> dict[str, ColumnValue]:
    """Give what a car is declared to be."""
    words = {"layout": car.layout, "front_carrier": car.front_carrier}
    return {
        key: ColumnValue(
            column=key,
            value=float([str(w) for w in quantity_of(key).words or ()].index(word)),
            source=Source.DECLARED,
        )
        for key, word in words.items()
    }


def _findings(
    edition: LoadedEdition,
    rules: tuple[LoadedRule, ...],
    field: Field,
    stage: Stage,
) -> tuple[RuleFinding, ...]:
    if not rules:
        return ()
    said = evaluate(
        rules_as_arrays(
            edition,
            rules,
            stage=stage,
            columns=field.quantities,
            applies=np.ones((1, len(rules)), dtype=np.bool_),
        ),
        field,
    )
    return tuple(
        RuleFinding(
            rule=rule,
            lower=rule.limits(stage)[0],
            upper=rule.limits(stage)[1],
            outcome=OUTCOMES[said.outcome[0, place]],
            is_admitted=bool(said.admitted[0, place]),
            is_taken=bool(said.taken[0, place]),
            value=_known(said.value[0, place]),
            u_value=_known(said.u[0, place]),
            margin=_known(said.margin[0, place]),
            guard_band=_known(said.guard_band[0, place]),
            probability=_known(said.probability[0, place]),
            point=_point(int(said.point[0, place])),
            derived=_known(said.derived[0, place]),
            disagrees=bool(said.disagrees[0, place]),
        )
        for place, rule in enumerate(rules)
    )


def _point(code: int) -> Point | None:
    return None if code < 0 else POINTS[code]


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
