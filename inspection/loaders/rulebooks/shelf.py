"""Rulebooks with their editions, and what an edition says that cannot be meant."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median

from inspection.compute.quantities import FrontCarrier
from inspection.compute.rulebooks import (
    Contradiction,
    RulebookText,
    Surroundings,
    contradictions,
)
from inspection.models import Edition, Finding, RaceClass, Rulebook
from inventory.compute.numbers import from_millionths

#: The doubt of a quantity is the middle one of so many latest findings.
LATEST_FINDINGS = 2000


@dataclass(frozen=True, kw_only=True)
class ShelvedRulebook:
    """A rulebook with its classes and its editions, the latest first."""

    rulebook: Rulebook
    classes: tuple[RaceClass, ...]
    editions: tuple[Edition, ...]

    @property
    def in_force(self) -> Edition | None:
        return next((one for one in self.editions if one.is_published), None)


def load_rulebooks() -> list[ShelvedRulebook]:
    """Load every rulebook, in the same queries however many there are."""
    rulebooks = Rulebook.objects.order_by("name").prefetch_related(
        "classes", "editions__rulebook", "editions__published_by"
    )
    return [
        ShelvedRulebook(
            rulebook=one,
            classes=tuple(one.classes.all()),
            editions=tuple(one.editions.all()),
        )
        for one in rulebooks
    ]


def edition_before(edition: Edition) -> Edition | None:
    """Give the published edition that this one replaces."""
    others = Edition.objects.published().filter(rulebook=edition.rulebook_id)
    if edition.is_published:
        others = others.filter(number__lt=edition.number)
    return others.select_related("rulebook").order_by("-number").first()


def contradictions_of(
    edition: Edition, text: RulebookText
) -> tuple[Contradiction, ...]:
    """Name what an edition says that cannot be meant in this club."""
    keys = {rule.quantity for rule in text.rules if rule.required is None}
    around = Surroundings(classes=_carriers(edition.rulebook_id), u=usual_u(keys))
    return contradictions(text, around)


def _carriers(rulebook_id: int) -> dict[str, frozenset[FrontCarrier]]:
    """Give what carries the front of the cars of each of a rulebook's classes."""
    carriers_by_class: dict[str, set[FrontCarrier]] = {}
    rows = RaceClass.objects.filter(rulebook=rulebook_id).values_list(
        "name", "cars__front_carrier"
    )
    for name, carrier in rows.distinct():
        of_class = carriers_by_class.setdefault(name, set())
        if carrier:
            of_class.add(FrontCarrier(carrier))
    return {name: frozenset(carriers) for name, carriers in carriers_by_class.items()}


def usual_u(keys: Iterable[str]) -> dict[str, float]:
    """Give the usual standard uncertainty of quantities that were judged before."""
    rows = (
        Finding.objects.filter(rule__quantity__in=keys)
        .exclude(u_value=None)
        .order_by("-pk")
        .values_list("rule__quantity", "u_value")[:LATEST_FINDINGS]
    )
    values_by_key: dict[str, list[int]] = defaultdict(list)
    for key, u_value in rows:
        values_by_key[key].append(u_value or 0)
    return {
        key: from_millionths(median(values)) for key, values in values_by_key.items()
    }
