"""
Which of these are really pairs, sets, or pairs once trued.

Sizes are whole micrometres, answers are positions; the same readings give the same
pairs, ties going to the lower position.  Every way to pair is exact; of a bag with
more possible pairs than can be held it is proven so, or says how far it can be off.
"""

from inventory.compute.pairing.bag import (
    Asked,
    Bag,
    Feature,
    FeatureLimit,
    GroupBy,
    NotSaidOfTheBagError,
    PairedBag,
    PairingWay,
    drifts_of,
    pair_bag,
)
from inventory.compute.pairing.chances import (
    NotADifferenceError,
    range_probability,
    within_probability,
)
from inventory.compute.pairing.features import (
    COST_STEPS,
    STEPS,
    FeatureMatching,
    NotAMeasureError,
    NotATableError,
    check_limits,
    check_measures,
    pair_by_features,
)
from inventory.compute.pairing.matching import (
    TooManyLinksError,
)
from inventory.compute.pairing.neighbours import (
    Matching,
    pair_by_size,
)
from inventory.compute.pairing.rejects import (
    RejectLimits,
    RejectReason,
    Rejects,
    find_rejects,
)
from inventory.compute.pairing.sets import (
    NotASetSizeError,
    Sets,
    check_set_size,
    choose_windows,
    match_sets,
)
from inventory.compute.pairing.sizes import (
    NoGroupError,
    NotALimitError,
    NotANumberError,
    NotARowError,
    NotASizeError,
    NotWholeError,
    number_groups,
)
from inventory.compute.pairing.stagger import (
    pair_with_stagger,
)
from inventory.compute.pairing.steering import (
    Steer,
    steer,
)
from inventory.compute.pairing.truing import (
    TruingPlan,
    plan_truing,
)
from inventory.compute.pairing.truing_the_rest import (
    true_the_rest,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "NotADifferenceError",
    "within_probability",
    "range_probability",
    "PairingWay",
    "GroupBy",
    "Feature",
    "Bag",
    "FeatureLimit",
    "Asked",
    "PairedBag",
    "NotSaidOfTheBagError",
    "pair_bag",
    "drifts_of",
    "true_the_rest",
    "Matching",
    "pair_by_size",
    "STEPS",
    "COST_STEPS",
    "NotATableError",
    "NotAMeasureError",
    "FeatureMatching",
    "pair_by_features",
    "check_measures",
    "check_limits",
    "NotASetSizeError",
    "Sets",
    "match_sets",
    "check_set_size",
    "choose_windows",
    "NotARowError",
    "NotANumberError",
    "NotWholeError",
    "NotASizeError",
    "NoGroupError",
    "NotALimitError",
    "number_groups",
    "pair_with_stagger",
    "TruingPlan",
    "plan_truing",
    "RejectReason",
    "RejectLimits",
    "Rejects",
    "find_rejects",
    "Steer",
    "steer",
    "TooManyLinksError",
]
