"""
From readings off a gauge to an estimate with its uncertainty.

Gauges and what each may err, repeats, a tyre's form from readings round the tread,
two sets that disagree, and the study that says whether a gauge measures at all.
"""

from inventory.compute.measuring.conflicts import (
    set_difference,
    sets_disagree,
)
from inventory.compute.measuring.gauges import (
    UNKNOWN_GAUGE,
    Gauge,
    GaugeMode,
    modes_of,
)
from inventory.compute.measuring.instruments import (
    NOT_FOR_PARTS,
    CheckKind,
    CheckResult,
    GaugeStanding,
    Instrument,
)
from inventory.compute.measuring.masters import (
    find_strange_master,
    find_strange_of_master,
    master_range,
)
from inventory.compute.measuring.own_repeats import (
    ENOUGH_REPEATS,
    OwnScatter,
    estimate_by_own,
    own_scatter,
    own_scatter_of_tyre,
)
from inventory.compute.measuring.readings import (
    Estimate,
    GoGauge,
    estimate,
    estimates,
    go_gauge,
    interval_estimate,
)
from inventory.compute.measuring.study import (
    GaugeStudy,
    MissingReadingError,
    NotAStudyError,
    NothingVariesError,
    RangeFactorsError,
    SmallStudyError,
    StudyMethod,
    check_against_master,
    gauge_study,
)
from inventory.compute.measuring.tyre_form import (
    USUAL_OUT_OF_ROUND_MM,
    estimate_round,
    tyre_forms,
)
from inventory.compute.measuring.usual_gauges import (
    USUAL_GAUGES,
    UsualGauge,
    UsualMode,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "Estimate",
    "estimate",
    "estimates",
    "interval_estimate",
    "go_gauge",
    "GoGauge",
    "GaugeMode",
    "modes_of",
    "Gauge",
    "UNKNOWN_GAUGE",
    "Instrument",
    "NOT_FOR_PARTS",
    "CheckKind",
    "CheckResult",
    "GaugeStanding",
    "set_difference",
    "sets_disagree",
    "StudyMethod",
    "NotAStudyError",
    "SmallStudyError",
    "RangeFactorsError",
    "MissingReadingError",
    "NothingVariesError",
    "GaugeStudy",
    "gauge_study",
    "check_against_master",
    "master_range",
    "find_strange_master",
    "find_strange_of_master",
    "USUAL_OUT_OF_ROUND_MM",
    "estimate_round",
    "tyre_forms",
    "ENOUGH_REPEATS",
    "OwnScatter",
    "own_scatter",
    "own_scatter_of_tyre",
    "estimate_by_own",
    "USUAL_GAUGES",
    "UsualGauge",
    "UsualMode",
]
