"""
The outcomes of a rule, and who bears the doubt near a limit.

The four outcomes are those of a guarded decision (ILAC-G8:09/2019); beside them
what is not measured and what does not speak of a car.  In an array an outcome is
its position here, as int8.
"""

from enum import StrEnum

from inventory.compute.arrays import Bools, Codes


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


#: Code of the worst outcome that each decision rule admits.
WORST_ADMITTED = {
    DecisionRule.SIMPLE_ACCEPTANCE: Outcome.CONDITIONAL_PASS.code,
    DecisionRule.GUARDED_ACCEPTANCE: Outcome.PASS.code,
    DecisionRule.GUARDED_REJECTION: Outcome.CONDITIONAL_FAIL.code,
}


def admits(outcome: Codes, rule: DecisionRule) -> Bools:
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
    >>> import numpy as np
    >>> codes = np.array([1, 4, 5], dtype=np.int8)
    >>> admits(codes, DecisionRule.GUARDED_ACCEPTANCE)
    array([False, False,  True])
    """
    not_applicable = outcome == Outcome.NOT_APPLICABLE.code
    admitted: Bools = (outcome <= WORST_ADMITTED[rule]) | not_applicable
    return admitted
