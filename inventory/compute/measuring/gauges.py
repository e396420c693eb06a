"""
Gauges: an instrument in one mode, on one quantity, and its own error.

All three figures in the quantity's unit.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import ClassVar, Final

import numpy as np
from numpy.typing import NDArray

from inventory.compute.errors import ComputeError
from inventory.compute.measuring.instruments import Instrument


class NotAGaugeError(ComputeError):
    """A gauge's step, permissible error or repeatability is no size of an error."""

    code: ClassVar[str] = "not_a_gauge"


class GaugeMode(StrEnum):
    """How an instrument is held to the part; each way has its own error."""

    OUTSIDE = "outside"
    INSIDE = "inside"
    DEPTH = "depth"
    STEP = "step"

    @property
    def length_scale_mm(self) -> float:
        """
        Over so many millimetres the error in this mode loses touch with itself.

        Jaws and their rule err alike over some distance, a rod or a step that is
        tilted each time over less; common practice, no source.
        """
        return 20.0 if self in {GaugeMode.OUTSIDE, GaugeMode.INSIDE} else 10.0


#: The ways that an instrument can be held, the usual one first; of all others the one
#: way in which it reads stands as "outside", and no page says it.
_MODES: Final[Mapping[Instrument, tuple[GaugeMode, ...]]] = MappingProxyType(
    {
        Instrument.CALIPER: tuple(GaugeMode),
        Instrument.MICROMETER: (GaugeMode.OUTSIDE, GaugeMode.INSIDE, GaugeMode.DEPTH),
        Instrument.HEIGHT_GAUGE: (GaugeMode.STEP, GaugeMode.DEPTH),
    }
)


def modes_of(instrument: Instrument) -> tuple[GaugeMode, ...]:
    """
    Say in which ways an instrument can be held.

    Parameters
    ----------
    instrument : Instrument
        What kind of gauge.

    Returns
    -------
    tuple of GaugeMode
        The usual one first; outside alone where nothing else is known.

    Examples
    --------
    >>> [str(mode) for mode in modes_of(Instrument.HEIGHT_GAUGE)]
    ['step', 'depth']
    >>> len(modes_of(Instrument.SCALE))
    1
    """
    return _MODES.get(instrument, (GaugeMode.OUTSIDE,))


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

    Examples
    --------
    >>> from inventory.compute.measuring import estimate
    >>> caliper = Gauge(
    ...     resolution=0.01, max_permissible_error=0.02, repeatability=0.005
    ... )
    >>> round(estimate([20.11, 20.12, 20.10], caliper).value, 3)
    20.11
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


#: What an old list was read with, where nobody knows: a rule or a worn caliper, in
#: mm.  Common practice, no source.
UNKNOWN_GAUGE: Final = Gauge(0.1, 0.1, 0.05)
