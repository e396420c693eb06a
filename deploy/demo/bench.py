"""The demo club's gauges, with the errors that such gauges honestly have."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from inspection.compute.quantities import Quantity
from inventory.actions.audit import Act
from inventory.actions.gauges import CheckFound, ModeFigures, add_gauge, check_gauge
from inventory.compute.measuring import CheckKind, CheckResult, Instrument
from inventory.compute.measuring import GaugeMode as Mode
from inventory.compute.numbers import Unit
from inventory.loaders.gauges import LoadedGauge, load_gauges
from inventory.models import Gauge, GaugeMode, Person

MM: Final = Unit.MILLIMETRE


@dataclass(frozen=True, kw_only=True)
class DemoMode:
    """A mode's figures, in the unit."""

    step: str
    error: str
    repeats: str = "0"
    mode: Mode = Mode.OUTSIDE
    unit: Unit = MM

    def figures(self) -> ModeFigures:
        return ModeFigures(
            mode=self.mode,
            unit=self.unit,
            resolution=_millionths(self.step),
            max_permissible_error=_millionths(self.error),
            repeatability=_millionths(self.repeats),
        )


@dataclass(frozen=True, kw_only=True)
class DemoGauge:
    """A gauge and the days before tonight when it was checked against a master."""

    name: str
    instrument: Instrument
    modes: tuple[DemoMode, ...]
    check_every_days: int = 365
    master: str = "20"
    bias: str = "0"


_CALIPER: Final = (
    DemoMode(step="0.01", error="0.02", repeats="0.01"),
    # Inside and by its depth rod a caliper is worse than outside.
    DemoMode(step="0.01", error="0.03", repeats="0.01", mode=Mode.INSIDE),
    DemoMode(step="0.01", error="0.03", repeats="0.01", mode=Mode.DEPTH),
    DemoMode(step="0.01", error="0.03", repeats="0.01", mode=Mode.STEP),
)

GAUGES: Final = (
    DemoGauge(
        name="Caliper A",
        instrument=Instrument.CALIPER,
        modes=_CALIPER,
        check_every_days=180,
        bias="0.01",
    ),
    DemoGauge(
        name="Caliper B",
        instrument=Instrument.CALIPER,
        modes=_CALIPER,
        check_every_days=180,
        bias="-0.01",
    ),
    DemoGauge(
        name="Caliper C",
        instrument=Instrument.CALIPER,
        modes=_CALIPER,
        check_every_days=180,
    ),
    DemoGauge(
        name="Micrometer",
        instrument=Instrument.MICROMETER,
        modes=(DemoMode(step="0.001", error="0.004", repeats="0.002"),),
        master="2",
    ),
    DemoGauge(
        name="Limit slips",
        instrument=Instrument.SLIP_GAUGE,
        modes=(DemoMode(step="0", error="0.005"),),
        master="1",
    ),
    DemoGauge(
        name="Feelers",
        instrument=Instrument.FEELER,
        modes=(DemoMode(step="0", error="0.008"),),
        master="0.4",
    ),
    DemoGauge(
        name="Scale",
        instrument=Instrument.SCALE,
        modes=(DemoMode(step="0.1", error="0.1", repeats="0.05", unit=Unit.GRAM),),
        master="100",
    ),
    DemoGauge(
        name="Steel rule",
        instrument=Instrument.RULE,
        modes=(DemoMode(step="0.5", error="0.15", repeats="0.2"),),
        master="100",
    ),
    DemoGauge(
        name="Pin gauges",
        instrument=Instrument.GO_PLATE,
        modes=(DemoMode(step="0.01", error="0.003"),),
        master="2",
    ),
    DemoGauge(
        name="Height gauge",
        instrument=Instrument.HEIGHT_GAUGE,
        modes=(DemoMode(step="0.01", error="0.03", repeats="0.01", mode=Mode.STEP),),
    ),
    DemoGauge(
        name="Dial indicator",
        instrument=Instrument.DIAL_INDICATOR,
        modes=(DemoMode(step="0.01", error="0.01", repeats="0.005"),),
        master="1",
    ),
    DemoGauge(
        name="Durometer",
        instrument=Instrument.DUROMETER,
        modes=(DemoMode(step="1", error="2", repeats="1", unit=Unit.SHORE_A),),
        master="40",
    ),
    DemoGauge(
        name="Tachometer",
        instrument=Instrument.TACHOMETER,
        modes=(DemoMode(step="10", error="100", repeats="150", unit=Unit.RPM),),
        master="20000",
    ),
    DemoGauge(
        name="Ohmmeter",
        instrument=Instrument.OHMMETER,
        modes=(DemoMode(step="0.001", error="0.01", repeats="0.003", unit=Unit.OHM),),
        master="2",
    ),
)

#: What is checked before each night, at zero and at a size near the cars'.
CHECKED_EACH_NIGHT: Final = ("Caliper A", "Limit slips", "Scale")

_IN_USE: Final[Mapping[Instrument, str]] = {
    Instrument.CALIPER: "Caliper A",
    Instrument.MICROMETER: "Micrometer",
    Instrument.SLIP_GAUGE: "Limit slips",
    Instrument.SCALE: "Scale",
    Instrument.RULE: "Steel rule",
    Instrument.GO_PLATE: "Pin gauges",
    Instrument.TACHOMETER: "Tachometer",
    Instrument.OHMMETER: "Ohmmeter",
}


class Bench:
    """
    The gauges in use, found by what they are to read.

    ``is_sure``: whoever reads confirms a reading that is asked about.
    """

    def __init__(self) -> None:
        self.is_sure = False
        self._gauges = {gauge.name: gauge for gauge in Gauge.objects.all()}
        modes = GaugeMode.objects.select_related("gauge")
        self._modes = {(mode.gauge.name, mode.mode): mode for mode in modes}
        self._loaded: dict[tuple[int, dt.date], LoadedGauge] = {}

    def mode_for(self, quantity: Quantity) -> GaugeMode:
        """Give the mode that a quantity of a car is usually taken in."""
        return self.mode(quantity.gauges[0], quantity.mode or Mode.OUTSIDE)

    def mode(self, instrument: Instrument, mode: Mode = Mode.OUTSIDE) -> GaugeMode:
        return self._modes[_IN_USE[instrument], mode]

    def loaded(self, mode: GaugeMode, at: dt.datetime) -> LoadedGauge:
        """Give a gauge with its standing that day; history is played in order."""
        key = (mode.pk, at.date())
        if key not in self._loaded:
            self._loaded[key] = load_gauges(at, pk=mode.pk)[0]
        return self._loaded[key]

    def check(
        self, name: str, *, act: Act, kind: CheckKind, bias: str | None = None
    ) -> None:
        """Check a gauge; one that is off by more than its error fails."""
        demo = next(one for one in GAUGES if one.name == name)
        off = demo.bias if bias is None else bias
        passed = abs(Decimal(off)) <= Decimal(demo.modes[0].error)
        result = CheckResult.PASSED if passed else CheckResult.FAILED
        self._loaded.clear()
        check_gauge(
            self._gauges[name],
            CheckFound(
                kind=kind,
                result=result,
                master=_millionths(demo.master),
                bias=_millionths(off),
                note="" if passed else "Jaws worn at the tips; sent to be lapped.",
            ),
            act=act,
        )


def bring_gauges(by: Person, *, at: dt.datetime) -> Bench:
    """Bring all gauges into use, each checked against its master."""
    act = Act(by=by, at=at)
    for demo in GAUGES:
        add_gauge(
            name=demo.name,
            instrument=demo.instrument,
            modes=[mode.figures() for mode in demo.modes],
            check_every_days=demo.check_every_days,
            act=act,
        )
    bench = Bench()
    for demo in GAUGES:
        bench.check(demo.name, act=act, kind=CheckKind.MASTER)
    return bench


def check_for_night(bench: Bench, *, act: Act) -> None:
    """Check what a night is measured with, at zero and near a car's sizes."""
    for name in CHECKED_EACH_NIGHT:
        bench.check(name, act=act, kind=CheckKind.TONIGHT, bias="0")


def _millionths(text: str) -> int:
    return int(Decimal(text).scaleb(6))
