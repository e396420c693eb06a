"""What each decision rule would cost a season, from how the stored cars spread."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from django.db.models import Count

from inspection.compute.judging import DecisionRule
from inspection.compute.rulebooks import Cost, RuleSeen, SpreadLimits, cost_of, tells
from inspection.loaders.rulebooks.editions import LoadedEdition, LoadedRule
from inspection.loaders.rulebooks.judged_cars import Judged
from inspection.loaders.rulebooks.stored_cars import Choice, StoredCars
from inspection.models import Seal

#: What is looked at within so long counts as a season.
SEASON: Final = dt.timedelta(days=365)


@dataclass(frozen=True, kw_only=True)
class SeasonCosts:
    """
    A cost for each decision rule, and what it rests on.

    ``rules`` can be told, ``untold`` not: too few cars, or no further apart than
    reading makes them.
    """

    draft: LoadedEdition
    costs: tuple[Cost, ...]
    looks: int
    rules: tuple[LoadedRule, ...]
    untold: tuple[LoadedRule, ...]


def season_costs(
    draft: LoadedEdition,
    judged: Judged,
    stored: StoredCars,
    choice: Choice,
    looks: Mapping[int, int],
) -> SeasonCosts:
    """
    Work out what each decision rule would cost at the draft's limits.

    ``looks`` is how many sheets of each class were sealed in a season.
    """
    seen = {
        place: RuleSeen(
            legal=_limits(rule, choice),
            value=judged.value[:, place],
            u=judged.u[:, place],
            is_about=judged.is_about[:, place],
        )
        for place, rule in enumerate(judged.rules)
        if rule.is_mandatory and rule.required is None
    }
    told = {place for place, one in seen.items() if tells(one)}
    cars = Counter(car.class_id for car in stored.cars)
    a_car = np.array(
        [looks.get(car.class_id, 0) / cars[car.class_id] for car in stored.cars]
    )
    return SeasonCosts(
        draft=draft,
        costs=tuple(
            cost_of(
                [seen[place] for place in sorted(told)],
                a_car,
                rule=rule,
                confidence=float(draft.confidence),
            )
            for rule in DecisionRule
        ),
        looks=round(float(a_car.sum())),
        rules=tuple(judged.rules[place] for place in sorted(told)),
        untold=tuple(judged.rules[place] for place in sorted(seen.keys() - told)),
    )


def looks_of_season(choice: Choice) -> dict[int, int]:
    """Count the sheets of each class sealed in the year up to the last night of it."""
    seals = Seal.objects.filter(
        sheet__stage=choice.stage,
        sheet__entry__race_class__rulebook=choice.rulebook_id,
    )
    if choice.class_id is not None:
        seals = seals.filter(sheet__entry__race_class=choice.class_id)
    dates = seals.order_by("-night__date").values_list("night__date", flat=True)
    last = dates.first()
    if last is None:
        return {}
    rows = (
        seals.filter(night__date__gt=last - SEASON)
        .order_by()
        .values_list("sheet__entry__race_class")
        .annotate(looks=Count("pk"))
    )
    return dict(rows)


def _limits(rule: LoadedRule, choice: Choice) -> SpreadLimits:
    lower, upper = rule.limits(choice.stage)
    return SpreadLimits(
        lower=-np.inf if lower is None else lower,
        upper=np.inf if upper is None else upper,
    )
