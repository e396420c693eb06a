"""
Gauges: an instrument in one mode, on one quantity, and its own error.

All three figures in the quantity's unit.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from inventory.compute.errors import ComputeError


class NotAGaugeError(ComputeError):
    """A gauge's step, permissible error or repeatability is no size of an error."""

    code: ClassVar[str] = "not_a_gauge"


class GaugeMode(StrEnum):
    """How an instrument is held to the part; each way has its own error."""

    OUTSIDE = "outside"
    INSIDE = "inside"
    DEPTH = "depth"
    STEP = "step"


@dataclass(frozen=True)
class Gauge:
    """
    An instrument in one mode, on one quantity.

    Parameters
    ----------
    resolution : float
        Step of the display, in the quantity's unit.
    max_permissible_error : float
        Largest error of the instrument in this mode, either way.
    repeatability : float
        Standard deviation of repeated readings of this quantity.

    Raises
    ------
    NotAGaugeError
        If one of them is negative or not finite.
    """

    resolution: float
    max_permissible_error: float
    repeatability: float

    def __post_init__(self) -> None:
        _refuse_bad_gauge(self)


@dataclass(frozen=True, kw_only=True, eq=False)
class Gauges:
    """As `Gauge`, with arrays that broadcast against the parts' axes."""

    resolution: NDArray[np.float64]
    max_permissible_error: NDArray[np.float64]
    repeatability: NDArray[np.float64]

    def __post_init__(self) -> None:
        _refuse_bad_gauge(self)


def _refuse_bad_gauge(gauge: Gauge | Gauges) -> None:
    for name, value in vars(gauge).items():
        if not np.all(np.isfinite(value) & np.greater_equal(value, 0)):
            msg = f"{name} is {value}; expected a finite size, zero or more"
            raise NotAGaugeError(msg)
