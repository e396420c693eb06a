"""A season: how cars were found at their first look, and margins night by night."""

import datetime as dt
from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Self, TypeAlias

from django.db.models import QuerySet

from inspection.compute.rulebooks import Stage
from inspection.loaders.history.night_sums import NOT_JUDGED, NightFigures
from inspection.models import Finding, RaceClass, Rule, Sheet
from inspection.words.quantities import quantity_name
from inventory.compute.numbers import from_millionths


@dataclass(frozen=True, kw_only=True)
class Passed:
    """So many admitted of so many judged."""

    admitted: int = 0
    judged: int = 0

    @property
    def percent(self) -> float | None:
        return 100 * self.admitted / self.judged if self.judged else None

    def __add__(self, other: Self) -> "Passed":
        return Passed(
            admitted=self.admitted + other.admitted, judged=self.judged + other.judged
        )


@dataclass(frozen=True, kw_only=True)
class RulePassed:
    """How often a rule admitted, in all and by class; as its last edition says it."""

    rule: Rule
    passed: Passed
    by_class: tuple[Passed, ...]

    @property
    def label(self) -> str:
        return quantity_name(self.rule.quantity)

    @property
    def refused(self) -> int:
        """How many cars it refused at their first look."""
        return self.passed.judged - self.passed.admitted


@dataclass(frozen=True, kw_only=True)
class PassRates:
    """First looks of the period: a row a rule, a column a class."""

    classes: tuple[str, ...]
    cars: tuple[Passed, ...]
    rules: tuple[RulePassed, ...]

    @property
    def all_cars(self) -> Passed:
        """All first looks together."""
        return _sum(self.cars)

    @property
    def refusing(self) -> list[RulePassed]:
        """The rules that refused a car, the one that refused most first."""
        refusing = [one for one in self.rules if one.refused]
        return sorted(refusing, key=lambda one: -one.refused)

    @property
    def refused_most(self) -> list[RulePassed]:
        """The rules of which none refused more: one, or several alike."""
        most = max((one.refused for one in self.rules), default=0)
        return [one for one in self.refusing if one.refused == most]

    @property
    def admitting(self) -> list[RulePassed]:
        """The rules that refused none."""
        return [one for one in self.rules if not one.refused]


@dataclass(frozen=True, kw_only=True)
class NightMargins:
    """Margins of one class on one night under one rule, in the rule's unit."""

    night_id: int
    date: dt.date
    night: str
    class_name: str
    count: int
    median: float
    least: float


def pass_rates(nights: Iterable[NightFigures]) -> PassRates:
    """Say how cars were found when they first came to the block on a night."""
    seen = list(nights)
    cars: dict[int, Passed] = defaultdict(Passed)
    by_rule: dict[tuple[int, int], Passed] = defaultdict(Passed)
    for night in seen:
        for class_id, judged, passed in night.sums.cars:
            cars[class_id] += Passed(admitted=passed, judged=judged)
        for rule_id, class_id, judged, admitted, *_margins in night.sums.rules:
            if judged:
                by_rule[rule_id, class_id] += Passed(admitted=admitted, judged=judged)
    classes = RaceClass.objects.filter(pk__in=cars).order_by("name")
    by_class = {one.pk: one.name for one in classes}
    return PassRates(
        classes=tuple(by_class.values()),
        cars=tuple(cars[pk] for pk in by_class),
        rules=tuple(_rules_passed(by_rule, tuple(by_class))),
    )


def _rules_passed(
    counts: Mapping[tuple[int, int], Passed], classes: Sequence[int]
) -> Iterator[RulePassed]:
    """Give a row a rule; it is the same while its number and quantity are."""
    rules = Rule.objects.filter(pk__in={rule for rule, _ in counts})
    alike: dict[tuple[int, str, str], list[Rule]] = defaultdict(list)
    for rule in rules.select_related("edition__rulebook").order_by("pk"):
        alike[rule.edition.rulebook_id, rule.number, rule.quantity].append(rule)
    rows = sorted(alike.values(), key=lambda some: _in_the_book(some[-1]))
    for some in rows:
        by_class = {
            class_id: _sum(counts.get((rule.pk, class_id), Passed()) for rule in some)
            for class_id in {class_id for _, class_id in counts}
        }
        yield RulePassed(
            rule=some[-1],
            passed=_sum(by_class.values()),
            by_class=tuple(by_class.get(one, Passed()) for one in classes),
        )


def _in_the_book(rule: Rule) -> tuple[str, int, int]:
    return rule.edition.rulebook.name, rule.position, rule.pk


def _sum(parts: Iterable[Passed]) -> Passed:
    return sum(parts, Passed())


@dataclass(frozen=True, kw_only=True)
class CarDot:
    """One car at its first look under one rule: a dot, and its sheet."""

    sheet: str
    is_admitted: bool


#: More cars than these are no dots any more, but figures.
MOST_DOTS: Final = 600

#: By rule; by night and class.
Dots: TypeAlias = Mapping[Hashable, list[CarDot]]


def cars_of_refusing(rates: PassRates, nights: Iterable[NightFigures]) -> Dots:
    """
    Give the cars under the rules that refused, by rule, the refused first; one query.

    Of more than `MOST_DOTS` those that were refused.
    """
    key_of = {
        (one.rule.edition.rulebook_id, one.rule.number, one.rule.quantity): one.rule.pk
        for one in rates.refusing
    }
    if not key_of:
        return {}
    rows = _first_looks(nights).filter(rule__number__in={key[1] for key in key_of})
    if sum(one.passed.judged for one in rates.refusing) > MOST_DOTS:
        rows = rows.filter(is_admitted=False)
    dots: dict[Hashable, list[CarDot]] = defaultdict(list)
    for book, number, quantity, sheet, is_admitted in rows.order_by(
        "is_admitted", "pk"
    ).values_list(
        "rule__edition__rulebook",
        "rule__number",
        "rule__quantity",
        "sheet__number",
        "is_admitted",
    )[: 2 * MOST_DOTS]:
        rule = key_of.get((book, number, quantity))
        dots[rule].append(CarDot(sheet=sheet, is_admitted=is_admitted))
    return dots


def cars_under(rule: Rule, nights: Iterable[NightFigures]) -> Dots:
    """Give the cars under one rule, by night and class, the worst margin first."""
    rows = _first_looks(nights).filter(
        rule__edition__rulebook=rule.edition.rulebook_id,
        rule__number=rule.number,
        rule__quantity=rule.quantity,
        margin__isnull=False,
    )
    dots: dict[Hashable, list[CarDot]] = defaultdict(list)
    named = ("sheet__entry__night", "sheet__entry__race_class__name")
    for night, class_name, sheet, is_admitted in rows.order_by("margin").values_list(
        *named, "sheet__number", "is_admitted"
    )[: MOST_DOTS + 1]:
        dots[night, class_name].append(CarDot(sheet=sheet, is_admitted=is_admitted))
    return dots if sum(map(len, dots.values())) <= MOST_DOTS else {}


def _first_looks(nights: Iterable[NightFigures]) -> QuerySet[Finding]:
    """Give the findings of cars when they first came to the block on a night."""
    first = Sheet.objects.counting().filter(
        entry__night__in=[night.pk for night in nights],
        previous=None,
        stage=Stage.BEFORE,
    )
    judged = Finding.objects.exclude(outcome__in=NOT_JUDGED)
    return judged.filter(sheet__in=first.values("pk"))


def margins_of(rule: Rule, nights: Iterable[NightFigures]) -> tuple[NightMargins, ...]:
    """Give a rule's margins through its editions, a row a night and class."""
    alike = set(
        Rule.objects.filter(
            edition__rulebook=rule.edition.rulebook_id,
            number=rule.number,
            quantity=rule.quantity,
        ).values_list("pk", flat=True)
    )
    rows = [
        (night, class_id, count, median, least)
        for night in nights
        for rule_id, class_id, _, _, count, median, least in night.sums.rules
        if rule_id in alike and count
    ]
    names = dict(
        RaceClass.objects.filter(pk__in={row[1] for row in rows}).values_list(
            "pk", "name"
        )
    )
    return tuple(
        NightMargins(
            night_id=night.pk,
            date=night.date,
            night=night.name,
            class_name=names[class_id],
            count=count,
            median=from_millionths(median),
            least=from_millionths(least),
        )
        for night, class_id, count, median, least in rows
    )
