"""What each rule says of a car: worked out now, or as a seal holds it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import isnan
from typing import Any

from inspection.compute.judging import Findings, Outcome, evaluate
from inspection.compute.quantities import (
    COLUMNS,
    WORDS_OF_CAR,
    FrontCarrier,
    Source,
    columns_of,
)
from inspection.compute.rulebooks import Stage
from inspection.compute.stance import AT_LEAST, AT_MOST, Field, Point, inputs_of
from inspection.loaders.block.values import ColumnValue
from inspection.loaders.rulebooks.editions import (
    LoadedEdition,
    LoadedRule,
    rules_of_field,
)
from inspection.loaders.rulebooks.judged_before import judge_what_changed
from inventory.compute.numbers import (
    decimals_beside,
    decimals_for,
    exact_decimals,
    format_u,
    format_value,
    from_millionths,
)

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
    went_under: bool | None
    critical: float | None = None
    half_width: float | None = None
    places: int = 0
    rests_on: tuple[ColumnValue, ...] = ()

    @property
    def is_of_tonight(self) -> bool:
        """Whether something that it rests on was read anew for this sheet."""
        return any(value.source is Source.TAKEN for value in self.rests_on)

    @cached_property
    def declared(self) -> tuple[ColumnValue, ...]:
        """What it rests on that nobody has read for the club."""
        return tuple(value for value in self.rests_on if value.is_only_declared)

    @property
    def unconfirmed(self) -> tuple[ColumnValue, ...]:
        """What it rests on of what the car is, that nobody has looked at."""
        return tuple(v for v in self.declared if v.column in WORDS_OF_CAR)

    @property
    def unread(self) -> tuple[ColumnValue, ...]:
        """What else it rests on that nobody has read for the club."""
        return tuple(v for v in self.declared if v.column not in WORDS_OF_CAR)

    @property
    def has_declared_words(self) -> bool:
        """Whether one of them is a word, which is stored and not read on the block."""
        return any(value.quantity.words is not None for value in self.unread)

    @property
    def short_by(self) -> str:
        """Distance to the nearest limit, without its sign, as it is shown."""
        if self.margin is None:
            return ""
        quantity = self.rule.quantity
        away = abs(self.margin)
        decimals = decimals_beside(away, [0.0], decimals=quantity.decimals)
        return format_value(away, decimals=decimals, unit=quantity.unit)

    @property
    def value_decimals(self) -> int:
        """Decimals at which the value reads as it stands to its limits."""
        least, limits = self.rule.quantity.decimals, (self.lower, self.upper)
        if self.value is None:
            return least
        return decimals_beside(self.value, limits, decimals=least)

    @property
    def recorded_decimals(self) -> int:
        """Decimals of the value beside its uncertainty: both end at one place."""
        if not self.u_value or not format_u(self.u_value):
            return self.value_decimals
        return max(self.value_decimals, decimals_for(self.u_value))

    @property
    def lower_text(self) -> str:
        return "" if self.lower is None else self._limit(self.lower)

    @property
    def lower_number(self) -> str:
        """The lower limit without its unit, where that follows."""
        return "" if self.lower is None else self._limit(self.lower, is_bare=True)

    @property
    def upper_text(self) -> str:
        return "" if self.upper is None else self._limit(self.upper)

    def _limit(self, limit: float, *, is_bare: bool = False) -> str:
        quantity = self.rule.quantity
        decimals = exact_decimals(limit, least=quantity.decimals)
        return format_value(
            limit, decimals=decimals, unit=quantity.unit, is_bare=is_bare
        )

    @property
    def slips(self) -> tuple[str, str] | None:
        """The two slips that the value lies between, as they are shown."""
        if self.half_width is None or self.value is None:
            return None
        ends = (self.value - self.half_width, self.value + self.half_width)
        # A slip's size comes back to within a millionth or two.
        least = self.rule.quantity.decimals
        low, high = (
            f"{end:.{exact_decimals(round(end, 5), least=least)}f}" for end in ends
        )
        return low, high

    @property
    def refused_at_limit(self) -> int:
        """How many of 100 cars read as outside with all these places at the limit."""
        # Errors with nothing in common are the worst of those of one sign.
        return round(100 * (1 - 0.5**self.places))

    @property
    def keeps_from_passing(self) -> bool:
        """Whether this finding alone keeps the car from passing."""
        return (
            self.rule.is_mandatory
            and self.outcome is not Outcome.NOT_APPLICABLE
            and not self.is_admitted
        )


def findings_of(
    edition: LoadedEdition,
    rules: tuple[LoadedRule, ...],
    field: Field,
    stage: Stage,
    *,
    is_anew: bool = False,
) -> tuple[RuleFinding, ...]:
    """
    Judge one car's values by the rules of a stage.

    What a rule said of the same values before is taken as it was; not where the car
    is to be judged anew, as it is for a seal.
    """
    if not rules:
        return ()
    arrays = rules_of_field(edition, rules, field, stage=stage)
    judged = evaluate(arrays, field) if is_anew else judge_what_changed(arrays, field)
    return _row(rules, stage, judged, 0)


def findings_of_field(
    edition: LoadedEdition,
    rules: tuple[LoadedRule, ...],
    field: Field,
    stage: Stage,
) -> list[tuple[RuleFinding, ...]]:
    """Judge cars by the rules of a stage that speak of all of them; a row a car."""
    if not rules:
        return [()] * field.car_count
    judged = evaluate(rules_of_field(edition, rules, field, stage=stage), field)
    return [_row(rules, stage, judged, car) for car in range(field.car_count)]


def _row(
    rules: tuple[LoadedRule, ...], stage: Stage, judged: Findings, car: int
) -> tuple[RuleFinding, ...]:
    said = {name: array[car].tolist() for name, array in vars(judged).items()}
    rows = (
        dict(zip(said, row, strict=True)) for row in zip(*said.values(), strict=True)
    )
    return tuple(
        _finding(rule, stage, row) for rule, row in zip(rules, rows, strict=True)
    )


def with_evidence(
    findings: Iterable[RuleFinding],
    values: Mapping[str, ColumnValue],
    *,
    is_judged: bool = True,
) -> tuple[RuleFinding, ...]:
    """
    Name what findings rest on; what nobody read for the club proves no rule.

    A mandatory rule that rests on it is not measured until a scrutineer reads it.
    """
    carrier = FrontCarrier(values["front_carrier"].text)
    return tuple(_resting(finding, values, carrier, is_judged) for finding in findings)


def with_all_evidence(
    findings: Iterable[RuleFinding],
    edition: LoadedEdition,
    stage: Stage,
    class_id: int,
    values: Mapping[str, ColumnValue],
) -> tuple[RuleFinding, ...]:
    """
    Name what findings rest on, and add the rules that the car may be bound by.

    A mandatory rule that would bind it if it were not what it is said to be, such as
    one of another layout than the owner's word, is not measured until somebody who
    measures for the club has looked at the car.
    """
    more = [
        _in_question(rule, stage, values[rule.condition_key])
        for rule in edition.at(stage)
        if rule.is_mandatory
        and rule.is_of_class(class_id)
        and rule.condition_key in WORDS_OF_CAR
        and values[rule.condition_key].is_only_declared
        and values[rule.condition_key].text != rule.condition_word
    ]
    every = [*with_evidence(findings, values), *more]
    return tuple(sorted(every, key=lambda found: found.rule.position))


def _in_question(rule: LoadedRule, stage: Stage, word: ColumnValue) -> RuleFinding:
    lower, upper = rule.limits(stage)
    return RuleFinding(
        rule=rule,
        lower=lower,
        upper=upper,
        outcome=Outcome.NOT_MEASURED,
        is_admitted=False,
        is_taken=False,
        value=None,
        u_value=None,
        margin=None,
        guard_band=None,
        probability=None,
        point=None,
        derived=None,
        disagrees=False,
        went_under=None,
        rests_on=(word,),
    )


def _resting(
    finding: RuleFinding,
    values: Mapping[str, ColumnValue],
    carrier: FrontCarrier,
    is_judged: bool,  # noqa: FBT001
) -> RuleFinding:
    rule = finding.rule
    columns = _columns_read(
        rule.quantity.key, carrier, rule.condition_key, is_taken=finding.is_taken
    )
    rests_on = tuple(values[column] for column in columns if column in values)
    finding = replace(finding, rests_on=rests_on)
    if not (is_judged and finding.rule.is_mandatory and finding.declared):
        return finding
    return replace(
        finding,
        outcome=Outcome.NOT_MEASURED,
        is_admitted=False,
        value=None,
        u_value=None,
        margin=None,
        guard_band=None,
        probability=None,
        point=None,
        derived=None,
        disagrees=False,
        went_under=None,
        critical=None,
        half_width=None,
        places=0,
    )


@lru_cache(maxsize=1_000)
def _columns_read(
    key: str, carrier: FrontCarrier, condition: str, *, is_taken: bool
) -> tuple[str, ...]:
    """Name the columns that a finding rests on, in the registry's order."""
    columns = {*(columns_of(key) if is_taken else inputs_of(key, carrier))}
    # Whether it speaks of the car at all may hang on what the car is.
    columns.add(condition)
    return tuple(column for column in COLUMNS if column in columns)


def _finding(rule: LoadedRule, stage: Stage, said: Mapping[str, Any]) -> RuleFinding:
    lower, upper = rule.limits(stage)
    return RuleFinding(
        rule=rule,
        lower=lower,
        upper=upper,
        outcome=OUTCOMES[said["outcome"]],
        is_admitted=said["admitted"],
        is_taken=said["taken"],
        value=_known(said["value"]),
        u_value=_known(said["u"]),
        margin=_known(said["margin"]),
        guard_band=_known(said["guard_band"]),
        probability=_known(said["probability"]),
        point=_point(said["point"]),
        derived=_known(said["derived"]),
        disagrees=said["disagrees"],
        went_under=_went_under(said["bound"]),
        critical=_known(said["critical"]),
        half_width=_known(said["half_width"]),
        places=said["places"],
    )


def _point(code: int) -> Point | None:
    return None if code < 0 else POINTS[code]


def _went_under(bound: int) -> bool | None:
    return {AT_LEAST: True, AT_MOST: False}.get(bound)


def _known(value: float) -> float | None:
    return None if isnan(value) else value


def judging_of(content: Mapping[str, Any]) -> int:
    """Give the number of the judging of a seal; the first seals say none."""
    return int(content.get("judging", 0))


def stored_findings(
    edition: LoadedEdition, content: Mapping[str, Any]
) -> tuple[RuleFinding, ...]:
    """Give the findings that a seal's content holds, as they were when it was put."""
    rules = {rule.number: rule for rule in edition.rules}
    return tuple(
        _stored(rules[row["rule"]], row)
        for row in content["findings"]
        if row["rule"] in rules
    )


def _stored(rule: LoadedRule, row: Mapping[str, Any]) -> RuleFinding:
    return RuleFinding(
        rule=rule,
        lower=_in_units(row["lower"]),
        upper=_in_units(row["upper"]),
        outcome=Outcome(row["outcome"]),
        is_admitted=row["admitted"],
        is_taken=row["taken"],
        value=_in_units(row["value"]),
        u_value=_in_units(row["u"]),
        margin=_in_units(row["margin"]),
        guard_band=_in_units(row.get("guard_band")),
        probability=row.get("probability"),
        point=None if row["point"] is None else Point(row["point"]),
        derived=_in_units(row.get("derived")),
        disagrees=row.get("disagrees", False),
        went_under=row.get("went_under"),
        critical=row.get("critical"),
        half_width=_in_units(row.get("half_width")),
        places=row.get("places", 0),
    )


def _in_units(millionths: float | None) -> float | None:
    return None if millionths is None else from_millionths(millionths)
