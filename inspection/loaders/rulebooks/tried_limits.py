"""One rule of a draft on every stored car, with its limit moved about."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from inspection.compute.judging import Findings, Outcome
from inspection.compute.rulebooks import (
    AdmittingLimit,
    Bins,
    Bound,
    Stage,
    admitting_limit,
    bins_of,
)
from inspection.loaders.rulebooks.editions import LoadedEdition, LoadedRule
from inspection.loaders.rulebooks.judged_cars import arrays_of, evaluate_stored
from inspection.loaders.rulebooks.stored_cars import StoredCar, StoredCars

#: So many cars that a moved limit changes are shown by name.
MOST_NAMED = 50


@dataclass(frozen=True, kw_only=True)
class Limits:
    """Limits of a rule, in its unit."""

    lower: float | None
    upper: float | None


@dataclass(frozen=True, kw_only=True)
class Count:
    """How many cars a rule admits, refuses and cannot tell."""

    admitted: int
    refused: int
    not_measured: int


@dataclass(frozen=True, kw_only=True)
class MovedCar:
    """A car that the moved limit finds otherwise."""

    car: StoredCar
    is_admitted: bool
    value: float
    u_value: float
    margin: float


@dataclass(frozen=True, kw_only=True)
class LimitTrial:
    """A rule as it is drafted and as it is moved."""

    rule: LoadedRule
    drafted: Limits
    moved: Limits
    count_drafted: Count
    count_moved: Count
    bins: Bins
    outside: int
    guard_band: float | None
    admitting: dict[Bound, AdmittingLimit]
    moved_cars: tuple[MovedCar, ...]
    moved_count: int


def try_limit(
    draft: LoadedEdition,
    rule: LoadedRule,
    stored: StoredCars,
    *,
    stage: Stage,
    limits: Limits | None,
    share: float,
) -> LimitTrial:
    """Judge the stored cars by one rule, as drafted and with other limits."""
    moved = rule if limits is None else move_limits(rule, limits, stage)
    findings = evaluate_stored(draft, (rule, moved), stored, stage)
    cars = _moved_cars(findings, stored)
    return LimitTrial(
        rule=rule,
        drafted=_limits(rule, stage),
        moved=_limits(moved, stage),
        count_drafted=_count(findings, 0),
        count_moved=_count(findings, 1),
        bins=bins_of(findings.value[:, 1], decimals=rule.quantity.decimals),
        outside=int((findings.margin[:, 1] < 0).sum()),
        guard_band=_median(findings.guard_band[:, 1]),
        admitting=_admitting(draft, moved, stored, stage=stage, share=share),
        moved_cars=cars[:MOST_NAMED],
        moved_count=len(cars),
    )


def move_limits(rule: LoadedRule, limits: Limits, stage: Stage) -> LoadedRule:
    """Give a rule other limits at a stage; those of the other stage stay."""
    if stage is not Stage.AFTER:
        return replace(rule, lower=limits.lower, upper=limits.upper)
    if rule.stage is Stage.BOTH:
        return replace(rule, lower_after=limits.lower, upper_after=limits.upper)
    only_after = replace(rule, lower_after=None, upper_after=None)
    return replace(only_after, lower=limits.lower, upper=limits.upper)


def _limits(rule: LoadedRule, stage: Stage) -> Limits:
    if rule.required is not None:
        return Limits(lower=None, upper=None)
    lower, upper = rule.limits(stage)
    return Limits(lower=lower, upper=upper)


def _count(findings: Findings, place: int) -> Count:
    outcome = findings.outcome[:, place]
    not_measured = outcome == Outcome.NOT_MEASURED.code
    about = outcome != Outcome.NOT_APPLICABLE.code
    admitted = findings.admitted[:, place]
    return Count(
        admitted=int((admitted & about).sum()),
        refused=int((~admitted & ~not_measured).sum()),
        not_measured=int(not_measured.sum()),
    )


def _admitting(
    draft: LoadedEdition,
    rule: LoadedRule,
    stored: StoredCars,
    *,
    stage: Stage,
    share: float,
) -> dict[Bound, AdmittingLimit]:
    """Find the limit that admits a share of the cars, for each limit there is."""
    limits = _limits(rule, stage)
    arrays = arrays_of(draft, (rule,), stored, stage)
    return {
        bound: admitting_limit(
            arrays,
            stored.field,
            bound=bound,
            share=share,
            decimals=rule.quantity.decimals,
        )
        for bound, limit in ((Bound.LOWER, limits.lower), (Bound.UPPER, limits.upper))
        if limit is not None
    }


def _moved_cars(findings: Findings, stored: StoredCars) -> tuple[MovedCar, ...]:
    changed = findings.admitted[:, 0] != findings.admitted[:, 1]
    rows = np.flatnonzero(changed)
    # The car that the move changes most stands first.
    rows = rows[np.argsort(-np.abs(findings.margin[rows, 1]), kind="stable")]
    return tuple(
        MovedCar(
            car=stored.cars[row],
            is_admitted=bool(findings.admitted[row, 1]),
            value=float(findings.value[row, 1]),
            u_value=float(findings.u[row, 1]),
            margin=float(findings.margin[row, 1]),
        )
        for row in rows.tolist()
    )


def _median(values: NDArray[np.float64]) -> float | None:
    known = values[~np.isnan(values)]
    return float(np.median(known)) if known.size else None
