"""The words of measuring instruments: what they are and how a check ended."""

from enum import StrEnum
from typing import Final


class Instrument(StrEnum):
    """A kind of gauge."""

    CALIPER = "caliper"
    MICROMETER = "micrometer"
    SLIP_GAUGE = "slip gauge"
    FEELER = "feeler"
    GO_PLATE = "go plate"
    BOX = "box"
    RULE = "rule"
    HEIGHT_GAUGE = "height gauge"
    DIAL_INDICATOR = "dial indicator"
    DUROMETER = "durometer"
    SCALE = "scale"
    PULL_SCALE = "pull scale"
    TACHOMETER = "tachometer"
    OHMMETER = "ohmmeter"
    EYE = "eye"


#: These tell a gap or a look, and are not held to a part.
NOT_FOR_PARTS: Final = frozenset(
    {
        Instrument.SLIP_GAUGE,
        Instrument.FEELER,
        Instrument.BOX,
        Instrument.EYE,
        Instrument.PULL_SCALE,
    }
)


class CheckKind(StrEnum):
    """Why a gauge was checked."""

    MASTER = "against master"
    TONIGHT = "tonight"


class CheckResult(StrEnum):
    """How a check of a gauge ended."""

    PASSED = "passed"
    FAILED = "failed"


class GaugeStanding(StrEnum):
    """Whether a gauge may be used now."""

    GOOD = "good"
    NO_CHECK_TONIGHT = "no check tonight"
    OVERDUE = "check overdue"
    FAILED = "check failed"
    NEVER_CHECKED = "never checked"
