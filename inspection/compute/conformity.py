"""
Whether a value meets a limit, seen with its uncertainty.

JCGM 106:2012, clauses 7 and 8, with the four outcomes of a non-binary decision
rule.  A value and its limits are compared after rounding both to 1e-6 of the
unit, so that a reading typed as the limit is at the limit.  One value in: floats
and words out.  Many: arrays, and outcomes as int8 codes in the words' order.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar, Generic, TypeAlias, TypeVar, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from inspection.compute.uncertainty import NegativeUncertaintyError
from inventory.compute.errors import ComputeError

FloatArray: TypeAlias = NDArray[np.float64]
BoolArray: TypeAlias = NDArray[np.bool_]
CodeArray: TypeAlias = NDArray[np.int8]

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


class Outcome(StrEnum):
    """What a rule finds of a car."""

    PASS = "pass"  # noqa: S105
    CONDITIONAL_PASS = "conditional pass"  # noqa: S105
    CONDITIONAL_FAIL = "conditional fail"
    FAIL = "fail"
    NOT_MEASURED = "not measured"
    NOT_APPLICABLE = "not applicable"

    @property
    def code(self) -> int:
        """The number that stands for the outcome in an array."""
        return tuple(Outcome).index(self)


class DecisionRule(StrEnum):
    """Who bears the doubt of a measurement near a limit."""

    SIMPLE_ACCEPTANCE = "simple acceptance"
    GUARDED_ACCEPTANCE = "guarded acceptance"
    GUARDED_REJECTION = "guarded rejection"


_WORST_ADMITTED = {
    DecisionRule.SIMPLE_ACCEPTANCE: Outcome.CONDITIONAL_PASS.code,
    DecisionRule.GUARDED_ACCEPTANCE: Outcome.PASS.code,
    DecisionRule.GUARDED_REJECTION: Outcome.CONDITIONAL_FAIL.code,
}


def admits(outcome: CodeArray, rule: DecisionRule) -> BoolArray:
    """
    Tell which outcomes a decision rule admits.

    Parameters
    ----------
    outcome : ndarray of int8
        Codes of `Outcome`.
    rule : DecisionRule
        Who bears the doubt.

    Returns
    -------
    ndarray of bool
        What is not applicable is admitted, what is not measured is not.

    Examples
    --------
    >>> codes = np.array([1, 4, 5], dtype=np.int8)
    >>> admits(codes, DecisionRule.GUARDED_ACCEPTANCE)
    array([False, False,  True])
    """
    not_applicable = outcome == Outcome.NOT_APPLICABLE.code
    admitted: BoolArray = (outcome <= _WORST_ADMITTED[rule]) | not_applicable
    return admitted


OutcomeT = TypeVar("OutcomeT", Outcome, CodeArray)
AdmittedT = TypeVar("AdmittedT", bool, BoolArray)
NumberT = TypeVar("NumberT", float, FloatArray)


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

    near: FloatArray
    far: FloatArray
    u: FloatArray


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
    value: FloatArray,
    u: ArrayLike,
    *,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
) -> FloatArray: ...
def conformance_probability(
    value: ArrayLike,
    u: ArrayLike,
    *,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
) -> float | FloatArray:
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
    value: FloatArray,
    u: ArrayLike,
    *,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
    rule: DecisionRule,
    confidence: float = 0.95,
) -> Judgement[CodeArray, BoolArray, FloatArray]: ...
def judge(
    value: ArrayLike,
    u: ArrayLike,
    *,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
    rule: DecisionRule,
    confidence: float = 0.95,
) -> Judgement[Outcome, bool, float] | Judgement[CodeArray, BoolArray, FloatArray]:
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
    quantile = _quantile(confidence)
    to = _distances(value, u, lower, upper)
    outside, far_outside = to.near < 0, to.near < -np.rint(quantile * to.u)
    # Each step is worse than the one before, so the steps taken are the code.
    steps = np.add(~_passes(to, confidence), outside, dtype=np.int8) + far_outside
    code = np.where(np.isnan(to.near), np.int8(Outcome.NOT_MEASURED.code), steps)
    found = Judgement[CodeArray, BoolArray, FloatArray](
        outcome=code,
        admitted=code <= _WORST_ADMITTED[rule],
        margin=to.near / _GRID,
        guard_band=quantile * to.u / _GRID,
        probability=_probability(to.near, to.far, to.u),
    )
    return _only(found) if code.ndim == 0 else found


@overload
def no_value_passes(
    u: float, *, lower: float, upper: float, confidence: float = 0.95
) -> bool: ...
@overload
def no_value_passes(
    u: FloatArray, *, lower: ArrayLike, upper: ArrayLike, confidence: float = 0.95
) -> BoolArray: ...
def no_value_passes(
    u: ArrayLike, *, lower: ArrayLike, upper: ArrayLike, confidence: float = 0.95
) -> bool | BoolArray:
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
    found = two_sided & ~_passes(_distances(middle, u, low, high), confidence)
    return bool(found) if found.ndim == 0 else found


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


def _limit(limit: ArrayLike | None, *, none: float) -> FloatArray:
    given = np.asarray(np.nan if limit is None else limit, dtype=np.float64)
    return np.where(np.isnan(given), none, np.rint(given * _GRID))


def _refuse_bad_limits(low: FloatArray, high: FloatArray) -> None:
    if (np.isinf(low) & np.isinf(high)).any():
        message = "A rule needs a lower limit, an upper limit, or both."
        raise NoLimitError(message)
    if (low > high).any():
        message = "The lower limit is above the upper one."
        raise LimitsCrossedError(message)


def _probability(near: FloatArray, far: FloatArray, u: FloatArray) -> FloatArray:
    known = np.where(u > 0, u, 1.0)
    # Written from the near side, both terms are small where the outcome is a sure
    # fail, and the difference keeps its digits.
    with np.errstate(over="ignore"):  # an uncertainty of 1e-300 is as good as none
        spread = ndtr(near / known) - ndtr(-far / known)
    exact = np.where(np.isnan(near), np.nan, near >= 0)
    return np.where(u > 0, spread, exact)


def _passes(to: _Distances, confidence: float) -> BoolArray:
    near, far, u = to.near, to.far, to.u
    passes = np.asarray(near >= np.rint(_quantile(confidence) * u))
    # One limit says all by its guard band; between two, both doubts count.  A value
    # at its acceptance limit may have been rounded half a step of 1e-6 off it, and
    # the probability is allowed that half step.
    two = passes & np.isfinite(far)
    between = _probability(near[two] + 0.5, far[two] + 0.5, u[two])
    passes[two] = between >= confidence
    return passes


def _quantile(confidence: float) -> float:
    if not 0.5 <= confidence < 1:
        message = "A confidence is at least 0.5 and below 1."
        raise ConfidenceError(message)
    return float(ndtri(confidence))


def _only(
    found: Judgement[CodeArray, BoolArray, FloatArray],
) -> Judgement[Outcome, bool, float]:
    return Judgement[Outcome, bool, float](
        outcome=tuple(Outcome)[int(found.outcome)],
        admitted=bool(found.admitted),
        margin=float(found.margin),
        guard_band=float(found.guard_band),
        probability=float(found.probability),
    )
