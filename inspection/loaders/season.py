"""A season: how cars were found at their first look, and margins night by night."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from django.db.models import Count, Max, Q

from inspection.compute.conformity import Outcome
from inspection.compute.entries import Decision
from inspection.compute.quantities import QUANTITIES
from inspection.compute.requirements import Stage
from inspection.compute.season import medians
from inspection.models import Finding, Rule, Seal


@dataclass(frozen=True, kw_only=True)
class Period:
    """From one day to another, both of them in it."""

    start: dt.date
    end: dt.date


@dataclass(frozen=True, kw_only=True)
class Passed:
    """So many admitted of so many judged."""

    admitted: int = 0
    judged: int = 0

    @property
    def percent(self) -> float | None:
        return 100 * self.admitted / self.judged if self.judged else None


@dataclass(frozen=True, kw_only=True)
class RulePassed:
    """How often a rule admitted, in all and by class; as its last edition says it."""

    rule: Rule
    passed: Passed
    by_class: tuple[Passed, ...]

    @property
    def label(self) -> str:
        return QUANTITIES[self.rule.quantity].label


@dataclass(frozen=True, kw_only=True)
class PassRates:
    """First looks of the period: a row a rule, a column a class."""

    classes: tuple[str, ...]
    cars: tuple[Passed, ...]
    rules: tuple[RulePassed, ...]


@dataclass(frozen=True, kw_only=True)
class NightMargins:
    """Margins of one class on one night under one rule, in the rule's unit."""

    date: dt.date
    night: str
    class_name: str
    count: int
    median: float
    least: float


def _first_looks(period: Period) -> Q:
    """Give the first sheets before the race, of each car on each night."""
    return Q(
        sheet__previous=None,
        sheet__stage=Stage.BEFORE,
        sheet__entry__night__date__range=(period.start, period.end),
    )


def load_pass_rates(period: Period) -> PassRates:
    """Count how cars were found when they first came to the block on a night."""
    by_class = _cars(period)
    found: dict[tuple[int, str, str], dict[str, Passed]] = defaultdict(dict)
    latest: dict[tuple[int, str, str], int] = {}
    for rulebook, number, quantity, race_class, last, judged, admitted in (
        Finding.objects.filter(_first_looks(period))
        .exclude(outcome__in=[Outcome.NOT_APPLICABLE, Outcome.NOT_MEASURED])
        .order_by()
        .values_list(
            "rule__edition__rulebook",
            "rule__number",
            "rule__quantity",
            "sheet__entry__race_class__name",
        )
        .annotate(
            last=Max("rule"),
            judged=Count("pk"),
            admitted=Count("pk", filter=Q(is_admitted=True)),
        )
    ):
        # A rule is the same through the editions while its number and quantity are.
        key = rulebook, number, quantity
        latest[key] = max(latest.get(key, 0), last)
        found[key][race_class] = Passed(admitted=admitted, judged=judged)
    counts = {latest[key]: classes for key, classes in found.items()}
    rules = Rule.objects.filter(pk__in=counts).select_related("edition__rulebook")
    return PassRates(
        classes=tuple(by_class),
        cars=tuple(by_class.values()),
        rules=tuple(
            RulePassed(
                rule=rule,
                passed=_sum(counts[rule.pk].values()),
                by_class=tuple(
                    counts[rule.pk].get(name, Passed()) for name in by_class
                ),
            )
            for rule in rules.order_by("edition__rulebook__name", "position", "pk")
        ),
    )


def _cars(period: Period) -> dict[str, Passed]:
    rows = (
        Seal.objects.filter(_first_looks(period))
        .order_by("sheet__entry__race_class__name")
        .values_list("sheet__entry__race_class__name")
        .annotate(
            judged=Count("pk"),
            passed=Count("pk", filter=Q(decision=Decision.PASSED)),
        )
    )
    return {name: Passed(admitted=passed, judged=all_) for name, all_, passed in rows}


def _sum(parts: Iterable[Passed]) -> Passed:
    held = list(parts)
    return Passed(
        admitted=sum(one.admitted for one in held),
        judged=sum(one.judged for one in held),
    )


def load_margins(rule: Rule, period: Period) -> tuple[NightMargins, ...]:
    """Give a rule's margins through its editions, a row a night and class."""
    rows = list(
        Finding.objects.filter(
            _first_looks(period),
            rule__edition__rulebook=rule.edition.rulebook_id,
            rule__number=rule.number,
            rule__quantity=rule.quantity,
        )
        .exclude(margin=None)
        .order_by("sheet__entry__night__date", "sheet__entry__night_id", "pk")
        .values_list(
            "sheet__entry__night__date",
            "sheet__entry__night__name",
            "sheet__entry__race_class__name",
            "margin",
        )
    )
    groups = {
        key: place for place, key in enumerate(dict.fromkeys(r[:3] for r in rows))
    }
    found = medians(
        np.array([row[3] / 1_000_000 for row in rows if row[3] is not None]),
        np.array([groups[row[:3]] for row in rows], dtype=np.int64),
        groups=len(groups),
    )
    return tuple(
        NightMargins(
            date=date,
            night=night,
            class_name=class_name,
            count=int(found.count[place]),
            median=float(found.median[place]),
            least=float(found.least[place]),
        )
        for (date, night, class_name), place in groups.items()
    )
