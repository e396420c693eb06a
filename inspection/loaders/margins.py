"""What a margin strip shows: of a rule's finding, and of a check of a part."""

from collections.abc import Mapping
from statistics import NormalDist
from typing import Final

import numpy as np

from inspection.compute.fit import CheckRow, CheckState
from inspection.compute.judging import Outcome
from inspection.compute.quantities import QUANTITIES, Quantity
from inspection.compute.rulebooks import Answer, Force, Stage
from inspection.drawing.strips import Margin, ordinary_guard
from inspection.loaders.block.findings import RuleFinding
from inspection.loaders.rulebooks.editions import LoadedRule
from inspection.loaders.rulebooks.trials import Reason
from inspection.loaders.rulebooks.tried_limits import LimitTrial, MovedCar
from inspection.models import Rule
from inventory.compute.numbers import from_millionths

#: The scale is laid for the usual confidence; another moves the band, not the scale.
_FACTOR: Final = NormalDist().inv_cdf(0.95)
#: Of a part that was read in its own unit: 0.02 mm is usual of a pair of sizes.
_ORDINARY_U: Final[Mapping[str, float]] = {"mm": 0.02, "g": 0.1}
_OUTCOMES: Final[Mapping[CheckState, Outcome]] = {
    CheckState.HOLDS: Outcome.PASS,
    CheckState.WARNS: Outcome.PASS,
    CheckState.FAILS: Outcome.FAIL,
    CheckState.NOT_CHECKED: Outcome.NOT_MEASURED,
    CheckState.NOT_MEASURED: Outcome.NOT_MEASURED,
    CheckState.NOT_APPLICABLE: Outcome.NOT_APPLICABLE,
}


def margin_of(finding: RuleFinding, *, went_under: bool | None = None) -> Margin:
    """Give what the strip of a finding shows; the first seals did not say the slip."""
    rule = finding.rule
    tried = finding.went_under if finding.is_taken else None
    return Margin(
        outcome=finding.outcome,
        lower=finding.lower,
        upper=finding.upper,
        value=finding.value,
        u=finding.u_value or 0.0,
        guard_band=finding.guard_band or 0.0,
        ordinary_guard=ordinary_guard(rule.quantity, _FACTOR),
        went_under=tried if went_under is None else went_under,
        half_width=finding.half_width,
        required=None if rule.required is None else rule.required is Answer.YES,
        is_refused=finding.keeps_from_passing,
        is_binding=rule.is_mandatory,
    )


def margin_of_check(row: CheckRow, rule: LoadedRule | None = None) -> Margin | None:
    """Give what the strip of a check shows; None of one that has no limit."""
    lower, upper = _known(row.lower), _known(row.upper)
    if lower is None and upper is None:
        return None
    if rule is None:
        usual = _FACTOR * _ORDINARY_U.get(row.unit, 0.0)
    else:
        usual = ordinary_guard(rule.quantity, _FACTOR)
    is_inside = row.margin >= 0
    close = Outcome.CONDITIONAL_PASS if is_inside else Outcome.CONDITIONAL_FAIL
    u_value = _known(row.u) or 0.0
    return Margin(
        outcome=_OUTCOMES.get(row.state, close),
        lower=lower,
        upper=upper,
        value=_known(row.value),
        u=u_value,
        guard_band=_FACTOR * u_value,
        ordinary_guard=usual,
        is_refused=row.state is CheckState.FAILS,
        is_binding=rule is None or rule.is_mandatory,
    )


def margin_as_moved(tried: LimitTrial, car: MovedCar) -> Margin:
    """Give what the strip of a car shows that a moved limit finds otherwise."""
    rule = tried.rule
    return Margin(
        outcome=_outcome(car.margin, tried.guard_band or 0.0),
        lower=tried.moved.lower,
        upper=tried.moved.upper,
        value=car.value,
        u=car.u_value,
        guard_band=tried.guard_band or 0.0,
        ordinary_guard=ordinary_guard(rule.quantity, _FACTOR),
        is_refused=not car.is_admitted and rule.is_mandatory,
        is_binding=rule.is_mandatory,
    )


def margin_of_reason(reason: Reason, stage: Stage) -> Margin | None:
    """Give what the strip of a reason in a trial shows; None of two limits."""
    rule = reason.rule
    if rule.required is not None or reason.margin is None:
        return None
    return _of_one_limit(
        rule.limits(stage),
        reason.margin,
        rule.quantity,
        outcome=reason.outcome,
        is_binding=rule.is_mandatory,
    )


def margin_of_night(rule: Rule, least: float) -> Margin | None:
    """Give what the strip of a night's least margin shows; None of two limits."""
    limits = tuple(
        None if limit is None else from_millionths(limit)
        for limit in (rule.lower, rule.upper)
    )
    quantity = QUANTITIES[rule.quantity]
    return _of_one_limit(
        (limits[0], limits[1]),
        least,
        quantity,
        outcome=_outcome(least, ordinary_guard(quantity, _FACTOR)),
        is_binding=rule.force == Force.MANDATORY,
    )


def _of_one_limit(
    limits: tuple[float | None, float | None],
    margin: float,
    quantity: Quantity,
    *,
    outcome: Outcome,
    is_binding: bool,
) -> Margin | None:
    """Put a margin beside its limit, in doubt by an ordinary reading's."""
    lower, upper = limits
    if (lower is None) == (upper is None):
        # Of two limits a margin does not say which it is from.
        return None
    value = lower + margin if lower is not None else (upper or 0.0) - margin
    usual = ordinary_guard(quantity, _FACTOR)
    return Margin(
        outcome=outcome,
        lower=lower,
        upper=upper,
        value=value,
        u=usual / _FACTOR,
        guard_band=usual,
        ordinary_guard=usual,
        is_refused=outcome is Outcome.FAIL and is_binding,
        is_binding=is_binding,
    )


def _outcome(margin: float, guard_band: float) -> Outcome:
    if margin >= 0.0:
        return Outcome.PASS if margin >= guard_band else Outcome.CONDITIONAL_PASS
    return Outcome.FAIL if -margin > guard_band else Outcome.CONDITIONAL_FAIL


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
