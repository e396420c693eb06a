"""Gauges: bringing one into use, and checking it."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.instruments import CheckKind, CheckResult, Instrument
from inventory.compute.measuring import GaugeMode as Mode
from inventory.compute.units import Unit
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
