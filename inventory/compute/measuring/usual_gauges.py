"""
The gauges that a club usually has, with the errors that such gauges may have.

Where a gauge comes with a sheet of its own, the sheet's figure counts; these are
for the many that come without.
"""

from dataclasses import dataclass
from typing import Final

from inventory.compute.measuring.instruments import Instrument
from inventory.compute.measuring.readings import GaugeMode
from inventory.compute.numbers import Unit


@dataclass(frozen=True, kw_only=True)
class UsualMode:
    """A mode's figures, as text in the unit."""

    step: str
    error: str
    mode: GaugeMode = GaugeMode.OUTSIDE
    unit: Unit = Unit.MILLIMETRE


@dataclass(frozen=True, kw_only=True)
class UsualGauge:
    """A gauge as it is found in many clubs; the first mode is the usual one."""

    key: str
    name: str
    instrument: Instrument
    modes: tuple[UsualMode, ...]
    check_every_days: int = 365


def _caliper_modes() -> tuple[UsualMode, ...]:
    """
    Digital caliper, step 0.01 mm, sizes up to 100 mm.

    DIN 862: 0.02 mm outside, 0.02 mm more for inside and depth; ISO 13385-1:2011
    has the same 0.02 mm more for depth and step.
    """
    others = (GaugeMode.INSIDE, GaugeMode.DEPTH, GaugeMode.STEP)
    return (
        UsualMode(step="0.01", error="0.02"),
        *(UsualMode(step="0.01", error="0.04", mode=mode) for mode in others),
    )


#: All but the caliper's errors: common practice, no source.
USUAL_GAUGES: Final = (
    UsualGauge(
        key="caliper",
        name="Caliper",
        instrument=Instrument.CALIPER,
        modes=_caliper_modes(),
        check_every_days=180,
    ),
    UsualGauge(
        key="second_caliper",
        name="Second caliper",
        instrument=Instrument.CALIPER,
        modes=_caliper_modes(),
        check_every_days=180,
    ),
    UsualGauge(
        key="scale",
        name="Scale",
        instrument=Instrument.SCALE,
        modes=(UsualMode(step="0.1", error="0.2", unit=Unit.GRAM),),
        check_every_days=180,
    ),
    UsualGauge(
        key="slips",
        name="Limit slips",
        instrument=Instrument.SLIP_GAUGE,
        modes=(UsualMode(step="0", error="0.01"),),
    ),
    UsualGauge(
        key="feelers",
        name="Feelers",
        instrument=Instrument.FEELER,
        modes=(UsualMode(step="0", error="0.01"),),
    ),
    UsualGauge(
        key="micrometer",
        name="Micrometer",
        instrument=Instrument.MICROMETER,
        modes=(UsualMode(step="0.001", error="0.004"),),
    ),
    UsualGauge(
        key="rule",
        name="Steel rule",
        instrument=Instrument.RULE,
        modes=(UsualMode(step="0.5", error="0.15"),),
    ),
    UsualGauge(
        key="pins",
        name="Pin gauges",
        instrument=Instrument.GO_PLATE,
        modes=(UsualMode(step="0.01", error="0.005"),),
    ),
    UsualGauge(
        key="ohmmeter",
        name="Ohmmeter",
        instrument=Instrument.OHMMETER,
        modes=(UsualMode(step="0.01", error="0.02", unit=Unit.OHM),),
    ),
    UsualGauge(
        key="tachometer",
        name="Tachometer",
        instrument=Instrument.TACHOMETER,
        modes=(UsualMode(step="10", error="100", unit=Unit.RPM),),
    ),
)
