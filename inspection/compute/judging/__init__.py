"""
Whether a value meets a limit, seen with its uncertainty.

From readings with their errors to an outcome for each rule and car: uncertainty is
propagated, the guard band taken off the limit, each value set beside each rule that
judges it, and the place that decides chosen.  The guard band is in ``conformity``.
"""

from inspection.compute.judging.conformity import (
    Judgement,
    conformance_probability,
    judge,
    no_value_passes,
)
from inspection.compute.judging.evaluation import (
    JUDGING,
    evaluate,
    ground_under,
    margins,
)
from inspection.compute.judging.missing import (
    missing_inputs,
)
from inspection.compute.judging.outcomes import (
    WORST_ADMITTED,
    DecisionRule,
    Outcome,
    admits,
)
from inspection.compute.judging.rooms import (
    Room,
    room,
)
from inspection.compute.judging.rule_arrays import (
    Findings,
    Rules,
    RulesShapeError,
)
from inspection.compute.judging.uncertainty import (
    Propagated,
    propagate,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "Outcome",
    "DecisionRule",
    "WORST_ADMITTED",
    "admits",
    "Judgement",
    "conformance_probability",
    "judge",
    "no_value_passes",
    "Propagated",
    "propagate",
    "JUDGING",
    "evaluate",
    "ground_under",
    "margins",
    "RulesShapeError",
    "Rules",
    "Findings",
    "Room",
    "room",
    "missing_inputs",
]
