"""
Whether a value meets a limit, seen with its uncertainty.

JCGM 106:2012, clauses 7 and 8, with the four outcomes of a non-binary decision
rule.  A value and its limits are compared after rounding both to 1e-6 of the
unit, so that a reading typed as the limit is at the limit.  One value in: floats
and words out.  Many: arrays, and outcomes as int8 codes in the words' order.
"""

from dataclasses import dataclass, replace
from typing import ClassVar, Generic, TypeVar, overload

import numpy as np
import scipy
from numpy.typing import ArrayLike

from inspection.compute.judging.outcomes import WORST_ADMITTED, DecisionRule, Outcome
from inspection.compute.judging.uncertainty import NegativeUncertaintyError
from inventory.compute.arrays import Bools, Codes, Floats
from inventory.compute.errors import ComputeError

_GRID = 1e6


class NoLimitError(ComputeError):
    """A rule has neither a lower nor an upper limit."""

    code: ClassVar[str] = "no_limit"


class LimitsCrossedError(ComputeError):
    """The lower limit is above the upper one."""

    code: ClassVar[str] = "limits_crossed"


class ConfidenceError(ComputeError):
    """A confidence is not from one half to below one."""

    code: ClassVar[str] = "confidence_out_of_range"


OutcomeT = TypeVar("OutcomeT", Outcome, Codes)
AdmittedT = TypeVar("AdmittedT", bool, Bools)
NumberT = TypeVar("NumberT", float, Floats)


@dataclass(frozen=True, kw_only=True)
class Judgement(Generic[OutcomeT, AdmittedT, NumberT]):
    """
    What a rule finds: for one value its word, for many their codes.

    ``margin`` is the distance to the nearest tolerance limit, positive inside, and
    ``guard_band`` the width of doubt on either side of it, both in the value's
    unit; ``probability`` is that of the true value being inside.
    """

    outcome: OutcomeT
    admitted: AdmittedT
    margin: NumberT
    guard_band: NumberT
    probability: NumberT


@dataclass(frozen=True, kw_only=True)
class _Distances:
    """From a value to its limits, positive inside, in whole 1e-6; infinite if none."""

    near: Floats
    far: Floats
    u: Floats


@overload
def conformance_probability(
    value: float,
    u: float,
    *,
    lower: float | None = None,
    upper: float | None = None,
) -> float: ...
@overload
def conformance_probability(
    value: Floats,
    u: ArrayLike,
    *,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
) -> Floats: ...
def conformance_probability(
    value: ArrayLike,
    u: ArrayLike,
    *,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
) -> float | Floats:
    """
    Probability that the true value is within its limits (JCGM 106:2012, clause 7).

    Parameters
    ----------
    value : float or array_like
        The measured value, NaN if there is none.
    u : float or array_like
        Its standard uncertainty; 0 gives a probability of 0 or 1.
    lower, upper : float or array_like, optional
        Tolerance limits, the value's unit; None or NaN for none.

    Returns
    -------
    float or ndarray
        The probability, NaN where not measured.

    Raises
    ------
    NoLimitError
        If there is neither limit.
    LimitsCrossedError
        If the lower limit is above the upper one.
    NegativeUncertaintyError
        If an uncertainty is below zero.

    Examples
    --------
    >>> round(conformance_probability(13.6, 1.8, lower=12.5, upper=16.3), 2)
    0.66
    """
    to = _distances(value, u, lower, upper)
    probability = _probability(to.near, to.far, to.u)
    return float(probability) if probability.ndim == 0 else probability


@overload
def judge(
    value: float,
    u: float,
    *,
    lower: float | None = None,
    upper: float | None = None,
    rule: DecisionRule,
    confidence: float = 0.95,
) -> Judgement[Outcome, bool, float]: ...
@overload
def judge(
    value: Floats,
    u: ArrayLike,
    *,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
    rule: DecisionRule,
    confidence: float = 0.95,
) -> Judgement[Codes, Bools, Floats]: ...
def judge(
    value: ArrayLike,
    u: ArrayLike,
    *,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
    rule: DecisionRule,
    confidence: float = 0.95,
) -> Judgement[Outcome, bool, float] | Judgement[Codes, Bools, Floats]:
    """
    Judge a value by its limits: which of four outcomes, and whether it is admitted.

    The guard band g is the normal quantile of the confidence times u.  Inside by g
    or more is a pass, inside by less a conditional pass, outside by up to g a
    conditional fail, and further outside a fail.  Of two limits the nearer counts,
    and a pass needs the probability of being between them too.

    Parameters
    ----------
    value : float or array_like
        The measured value, NaN if there is none.
    u : float or array_like
        Its standard uncertainty, NaN if there is none.
    lower, upper : float or array_like, optional
        Tolerance limits, the value's unit; None or NaN for none.
    rule : DecisionRule
        Which outcomes are admitted.
    confidence : float, default 0.95
        From 0.5 to below 1.

    Returns
    -------
    Judgement
        Where a value or its uncertainty is missing: ``not measured``, not admitted,
        margin and probability NaN.

    Raises
    ------
    NoLimitError
        If there is neither limit.
    LimitsCrossedError
        If the lower limit is above the upper one.
    NegativeUncertaintyError
        If an uncertainty is below zero.
    ConfidenceError
        If the confidence is below 0.5, or not below 1.

    Examples
    --------
    >>> judge(1.02, 0.0125, lower=1.0, rule=DecisionRule.GUARDED_ACCEPTANCE).outcome
    <Outcome.CONDITIONAL_PASS: 'conditional pass'>
    >>> readings = np.array([0.97, 0.98, 1.00, 1.03, np.nan])
    >>> judge(readings, 0.0125, lower=1.0, rule=DecisionRule.SIMPLE_ACCEPTANCE).outcome
    array([3, 2, 1, 0, 4], dtype=int8)
    """
    judgement = judge_outcome(
        value, u, lower=lower, upper=upper, rule=rule, confidence=confidence
    )
    to = _distances(value, u, lower, upper)
    judgement = replace(judgement, probability=_probability(to.near, to.far, to.u))
    return _only(judgement) if judgement.outcome.ndim == 0 else judgement


def judge_outcome(
    value: ArrayLike,
    u: ArrayLike,
    *,
    lower: ArrayLike | None,
    upper: ArrayLike | None,
    rule: DecisionRule,
    confidence: float,
) -> Judgement[Codes, Bools, Floats]:
    """
    Judge many values as `judge` does, but for the probability, which stays NaN.

    Parameters, exceptions and what is given are those of `judge`; where of several
    places one decides, `conformance_probability` is needed of that one alone.
    """
    quantile = _quantile(confidence)
    to = _distances(value, u, lower, upper)
    outside, far_outside = to.near < 0, to.near < -np.rint(quantile * to.u)
    # Each step is worse than the one before, so the steps taken are the code.
    steps = np.add(~_passes(to, confidence), outside, dtype=np.int8) + far_outside
    code = np.where(np.isnan(to.near), np.int8(Outcome.NOT_MEASURED.code), steps)
    return Judgement[Codes, Bools, Floats](
        outcome=code,
        admitted=code <= WORST_ADMITTED[rule],
        margin=to.near / _GRID,
        guard_band=quantile * to.u / _GRID,
        probability=np.broadcast_to(np.nan, code.shape),
    )


@overload
def no_value_passes(
    u: float, *, lower: float, upper: float, confidence: float = 0.95
) -> bool: ...
@overload
def no_value_passes(
    u: Floats, *, lower: ArrayLike, upper: ArrayLike, confidence: float = 0.95
) -> Bools: ...
def no_value_passes(
    u: ArrayLike, *, lower: ArrayLike, upper: ArrayLike, confidence: float = 0.95
) -> bool | Bools:
    """
    Tell two limits so close together that no value between them is a pass.

    So it is with limits narrower than two guard bands, and with slightly wider ones
    too: at 95 %, up to 3.92 u apart, doubt on both sides together is too much.

    Parameters
    ----------
    u : float or array_like
        Standard uncertainty of the values to be judged.
    lower, upper : float or array_like
        Tolerance limits, the value's unit; NaN for none.
    confidence : float, default 0.95
        From 0.5 to below 1.

    Returns
    -------
    bool or ndarray of bool
        True where even the middle is no pass.

    Raises
    ------
    NoLimitError
        If there is neither limit.
    LimitsCrossedError
        If the lower limit is above the upper one.
    NegativeUncertaintyError
        If an uncertainty is below zero.
    ConfidenceError
        If the confidence is below 0.5, or not below 1.

    Examples
    --------
    >>> no_value_passes(0.0125, lower=1.00, upper=1.04)
    True
    >>> no_value_passes(0.0125, lower=1.00, upper=1.05)
    False
    """
    _quantile(confidence)
    low = np.asarray(lower, dtype=np.float64)
    high = np.asarray(upper, dtype=np.float64)
    two_sided = np.isfinite(low) & np.isfinite(high)
    middle = np.where(two_sided, (low + high) / 2, 0.0)
    none_passes = two_sided & ~_passes(_distances(middle, u, low, high), confidence)
    return bool(none_passes) if none_passes.ndim == 0 else none_passes


def _distances(
    value: ArrayLike, u: ArrayLike, lower: ArrayLike | None, upper: ArrayLike | None
) -> _Distances:
    spread = np.asarray(u, dtype=np.float64)
    if (spread < 0).any():
        message = "A standard uncertainty cannot be below zero."
        raise NegativeUncertaintyError(message)
    low, high = _limit(lower, none=-np.inf), _limit(upper, none=np.inf)
    _refuse_bad_limits(low, high)
    measured = np.isfinite(value) & np.isfinite(spread)
    at = np.rint(np.where(measured, value, np.nan) * _GRID)
    sides = np.broadcast_arrays(at - low, high - at, spread * _GRID)
    return _Distances(
        near=np.minimum(sides[0], sides[1]),
        far=np.maximum(sides[0], sides[1]),
        u=sides[2],
    )


def _limit(limit: ArrayLike | None, *, none: float) -> Floats:
    given = np.asarray(np.nan if limit is None else limit, dtype=np.float64)
    return np.where(np.isnan(given), none, np.rint(given * _GRID))


def _refuse_bad_limits(low: Floats, high: Floats) -> None:
    if (np.isinf(low) & np.isinf(high)).any():
        message = "A rule needs a lower limit, an upper limit, or both."
        raise NoLimitError(message)
    if (low > high).any():
        message = "The lower limit is above the upper one."
        raise LimitsCrossedError(message)


def _probability(near: Floats, far: Floats, u: Floats) -> Floats:
    known = np.where(u > 0, u, 1.0)
    # Written from the near side, both terms are small where the outcome is a sure
    # fail, and the difference keeps its digits.
    with np.errstate(over="ignore"):  # an uncertainty of 1e-300 is as good as none
        spread = scipy.special.ndtr(near / known) - scipy.special.ndtr(-far / known)
    exact = np.where(np.isnan(near), np.nan, near >= 0)
    return np.where(u > 0, spread, exact)


def _passes(to: _Distances, confidence: float) -> Bools:
    near, far, u = to.near, to.far, to.u
    quantile = _quantile(confidence)
    passes = np.asarray(near >= np.rint(quantile * u))
    # One limit says all by its guard band; between two, both doubts count.  A value
    # at its acceptance limit may have been rounded half a step of 1e-6 off it, and
    # the probability is allowed that half step.  One u further inside, both tails
    # together are less than one was, and there is nothing to work out.
    two = passes & np.isfinite(far) & (near < (quantile + 1.0) * u)
    between = _probability(near[two] + 0.5, far[two] + 0.5, u[two])
    passes[two] = between >= confidence
    return passes


def _quantile(confidence: float) -> float:
    if not 0.5 <= confidence < 1:
        message = "A confidence is at least 0.5 and below 1."
        raise ConfidenceError(message)
    return float(scipy.special.ndtri(confidence))


def _only(
    judgement: Judgement[Codes, Bools, Floats],
) -> Judgement[Outcome, bool, float]:
    return Judgement[Outcome, bool, float](
        outcome=tuple(Outcome)[int(judgement.outcome)],
        admitted=bool(judgement.admitted),
        margin=float(judgement.margin),
        guard_band=float(judgement.guard_band),
        probability=float(judgement.probability),
    )
