"""
A rulebook as plain values, and what can be asked of it before a race night.

Its text and the words a rule is written with, what differs between two editions,
what in one cannot be meant, and what it would do to many stored cars.
"""

from inspection.compute.rulebooks.conflicting_rules import (
    Contradiction,
    Fault,
    Surroundings,
    contradictions,
)
from inspection.compute.rulebooks.differences import (
    Change,
    Difference,
    Limit,
    Part,
    PartChange,
    Said,
    Tends,
    difference,
    matching,
)
from inspection.compute.rulebooks.linked_rules import (
    Unmeetable,
)
from inspection.compute.rulebooks.requirements import (
    Answer,
    Evidence,
    Force,
    Stage,
)
from inspection.compute.rulebooks.rule_costs import (
    Cost,
    RuleSeen,
    SpreadLimits,
    cost_of,
    tells,
)
from inspection.compute.rulebooks.text import (
    RulebookText,
    RuleText,
    limit_text,
)
from inspection.compute.rulebooks.trials import (
    AdmittingLimit,
    Bins,
    Bound,
    CarFound,
    admitting_limit,
    bins_of,
    found_of_cars,
    outcome_counts,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "RuleText",
    "RulebookText",
    "limit_text",
    "Stage",
    "Evidence",
    "Force",
    "Answer",
    "Change",
    "Tends",
    "Part",
    "Limit",
    "Said",
    "PartChange",
    "Difference",
    "difference",
    "matching",
    "Fault",
    "Contradiction",
    "Unmeetable",
    "Surroundings",
    "contradictions",
    "CarFound",
    "Bound",
    "found_of_cars",
    "outcome_counts",
    "AdmittingLimit",
    "admitting_limit",
    "Bins",
    "bins_of",
    "SpreadLimits",
    "RuleSeen",
    "tells",
    "Cost",
    "cost_of",
]
