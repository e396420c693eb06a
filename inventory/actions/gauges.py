"""Gauges: bringing one into use, and checking it."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.errors import ComputeError
from inventory.compute.gauge_study import check_against_master
from inventory.compute.gauges import Gauge as ComputeGauge
from inventory.compute.gauges import GaugeMode as Mode
from inventory.compute.instruments import CheckKind, CheckResult, Instrument
from inventory.compute.units import Unit, parse_reading
from inventory.loaders.gauges import LoadedGauge
from inventory.models import Gauge, GaugeCheck, GaugeMode


@dataclass(frozen=True, kw_only=True)
class ModeFigures:
    """The errors a gauge may have in one mode, in millionths of the unit."""

    mode: Mode
    unit: Unit
    resolution: int
    max_permissible_error: int
    repeatability: int = 0


@transaction.atomic
def add_gauge(
    *,
    name: str,
    instrument: Instrument,
    modes: Iterable[ModeFigures],
    check_every_days: int,
    act: Act,
) -> Gauge:
    """
    Bring a gauge into use.

    Writes a Gauge and its GaugeModes; audits ``gauge.added``.  Raises
    RefusedError when the name is taken or no mode is given.
    """
    figures = list(modes)
    if not figures:
        raise RefusedError(
            code="no_mode",
            sentence=f"“{name}” has no mode: give at least one.",
            field="modes",
        )
    if Gauge.objects.filter(name=name).exists():
        raise RefusedError(
            code="name_taken",
            sentence=f"A gauge is already called “{name}”.",
            field="name",
        )
    gauge = Gauge.objects.create(
        name=name, instrument=instrument, check_every_days=check_every_days
    )
    GaugeMode.objects.bulk_create(
        GaugeMode(
            gauge=gauge,
            mode=one.mode,
            unit=one.unit,
            resolution=one.resolution,
            max_permissible_error=one.max_permissible_error,
            repeatability=one.repeatability,
        )
        for one in figures
    )
    record_event("gauge.added", subject=gauge, act=act)
    return gauge


@dataclass(frozen=True, kw_only=True)
class CheckFound:
    """What a check of a gauge found; sizes in millionths of the unit."""

    kind: CheckKind
    result: CheckResult
    master: int | None = None
    bias: int | None = None
    note: str = ""


@transaction.atomic
def check_gauge(gauge: Gauge, found: CheckFound, *, act: Act) -> GaugeCheck:
    """
    Record a check of a gauge.

    Writes a GaugeCheck; audits ``gauge.checked``.
    """
    check = GaugeCheck.objects.create(
        gauge=gauge,
        kind=found.kind,
        result=found.result,
        taken_at=act.at,
        by=act.by,
        master=found.master,
        bias=found.bias,
        note=found.note,
    )
    record_event(
        "gauge.checked", subject=gauge, act=act, result=found.result, kind=found.kind
    )
    return check


@dataclass(frozen=True, kw_only=True)
class MasterReadings:
    """What was typed at a check: the master's size, its readings, the zero."""

    kind: CheckKind
    master_text: str
    texts: tuple[str, ...]
    zero_text: str = ""


@transaction.atomic
def check_by_readings(mode: GaugeMode, said: MasterReadings, *, act: Act) -> GaugeCheck:
    """
    Check a gauge by what it reads of a master, and at zero where that was read.

    Writes a GaugeCheck, passed or failed by the permissible error of this mode;
    audits ``gauge.checked``.  Raises RefusedError for a text that is no value.
    """
    unit = Unit(mode.unit)
    master = _millionths(said.master_text, unit, field="master")
    readings = [_millionths(text, unit, field="texts") / 1e6 for text in said.texts]
    gauge = compute_gauge(mode)
    try:
        found = check_against_master(readings, master=master / 1e6, gauge=gauge)
    except ComputeError as error:
        raise RefusedError.because(error, field="texts") from error
    passed = found.passed
    if said.zero_text.strip():
        zero = _millionths(said.zero_text, unit, field="zero") / 1e6
        passed &= check_against_master([zero], master=0.0, gauge=gauge).passed
    return check_gauge(
        mode.gauge,
        CheckFound(
            kind=said.kind,
            result=CheckResult.PASSED if passed else CheckResult.FAILED,
            master=master,
            bias=round(found.bias * 1e6),
            note=f"{mode.mode}: {' '.join(said.texts)}"[:200],
        ),
        act=act,
    )


@transaction.atomic
def adopt_repeatability(
    mode: GaugeMode, repeatability: float, *, act: Act
) -> GaugeMode:
    """
    Give a gauge the repeatability that its study found.

    Writes a new GaugeMode and the end of the one before, so that old readings
    keep their figures; audits ``gauge.repeatability_adopted``.  Raises
    RefusedError when somebody has just replaced it.
    """
    ended = GaugeMode.objects.filter(pk=mode.pk, replaced_at=None).update(
        replaced_at=act.at
    )
    if not ended:
        raise RefusedError(
            code="figures_replaced",
            sentence=f"The figures of {mode} have just been replaced; look again.",
        )
    made = GaugeMode.objects.create(
        gauge=mode.gauge,
        mode=mode.mode,
        unit=mode.unit,
        resolution=mode.resolution,
        max_permissible_error=mode.max_permissible_error,
        repeatability=round(repeatability * 1e6),
    )
    record_event(
        "gauge.repeatability_adopted",
        subject=mode.gauge,
        act=act,
        before=mode.repeatability,
        after=made.repeatability,
    )
    return made


def compute_gauge(mode: GaugeMode) -> ComputeGauge:
    """Give a gauge in a mode its three figures, in its unit."""
    return ComputeGauge(
        mode.resolution / 1e6,
        mode.max_permissible_error / 1e6,
        mode.repeatability / 1e6,
    )


def _millionths(text: str, unit: Unit, *, field: str) -> int:
    try:
        return parse_reading(text, unit=unit).millionths
    except ComputeError as error:
        raise RefusedError.because(error, field=field) from error


def refuse_gauge(gauge: LoadedGauge, *, unit: Unit, of: str) -> None:
    """Refuse a gauge that reads another unit than ``of`` is in, or is barred."""
    if gauge.mode.unit != unit:
        raise RefusedError(
            code="gauge_of_other_unit",
            sentence=f"{gauge.mode.gauge} reads {gauge.mode.unit}; {of} is in {unit}.",
            field="gauge",
        )
    if gauge.is_barred:
        raise RefusedError(
            code="gauge_barred",
            sentence=f"{gauge.mode.gauge}: {gauge.standing}; check it against the "
            "master or take another.",
            field="gauge",
        )
