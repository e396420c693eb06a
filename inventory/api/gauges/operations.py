"""Gauges: brought into use, checked, studied."""

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone

from inventory.actions.gauges import (
    add_gauge,
    add_mode,
    adopt_repeatability,
    change_figures,
    check_by_readings,
)
from inventory.actions.refusals import RefusedError
from inventory.api.foundation.operations import (
    Call,
    Form,
    makes,
    reads,
    reads_all,
    writes,
)
from inventory.api.foundation.shapes import form_data
from inventory.api.gauges.gives import CheckShown, GaugeShown, StudyShown
from inventory.api.gauges.takes import (
    CheckSaid,
    FiguresSaid,
    NewGaugeSaid,
    NewModeSaid,
    StudySaid,
)
from inventory.api.parts.parts import refuse_form
from inventory.compute.errors import ComputeError
from inventory.compute.measuring import GaugeStudy, Instrument, gauge_study
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope
from inventory.files.studies import read_study
from inventory.forms.gauges import (
    ChangeFiguresForm,
    CheckForm,
    NewGaugeForm,
    NewModeForm,
    StudyForm,
)
from inventory.loaders.gauges import LoadedGauge, load_gauges
from inventory.models import Gauge, GaugeCheck, GaugeMode

_CHECKS: Mapping[str, Any] = {"asks": Ability.CHECK_GAUGES, "scope": Scope.PARTS}
_SHOWN = 100
_FIGURES = {"resolution": "0.01", "max_permissible_error": "0.02"}


@reads_all(GaugeShown)
def list_gauges(call: Call) -> list[LoadedGauge]:
    """List the gauges in use, each mode a row, with its standing."""
    return load_gauges(timezone.now())


@reads_all(GaugeShown)
def show_gauge(call: Call, gauge_id: int) -> list[LoadedGauge]:
    """Tell of one gauge, each of its modes a row."""
    return load_gauges(timezone.now(), gauge=get_object_or_404(Gauge, pk=gauge_id))


@reads_all(CheckShown)
def list_checks(call: Call, gauge_id: int) -> QuerySet[GaugeCheck]:
    """List the last hundred checks of a gauge."""
    gauge = get_object_or_404(Gauge, pk=gauge_id)
    return gauge.checks.select_related("by")[:_SHOWN]


@makes(
    GaugeShown,
    form=Form.ALL,
    takes=NewGaugeSaid,
    example={
        "name": "Caliper, red",
        "instrument": "caliper",
        "mode": "outside",
        "unit": "mm",
        "check_every_days": 180,
        **_FIGURES,
    },
    **_CHECKS,
)
def add_a_gauge(call: Call) -> list[LoadedGauge]:
    """Bring a gauge into use, in its first mode; it may be used once it is checked."""
    form = NewGaugeForm(form_data(call.said))
    refuse_form(form)
    cleaned = form.cleaned_data
    made = add_gauge(
        name=cleaned["name"],
        instrument=Instrument(cleaned["instrument"]),
        modes=[form.figures()],
        check_every_days=cleaned["check_every_days"],
        act=call.act,
    )
    return load_gauges(call.act.at, gauge=made)


@makes(
    GaugeShown,
    form=Form.ALL,
    takes=NewModeSaid,
    example={"mode": "depth", "unit": "mm", **_FIGURES},
    **_CHECKS,
)
def add_a_mode(call: Call, gauge_id: int) -> list[LoadedGauge]:
    """Let a gauge be used in one more mode."""
    gauge = get_object_or_404(Gauge, pk=gauge_id)
    form = NewModeForm(form_data(call.said))
    refuse_form(form)
    add_mode(gauge, form.figures(), act=call.act)
    return load_gauges(call.act.at, gauge=gauge)


@writes(
    GaugeShown,
    form=Form.ALL,
    takes=FiguresSaid,
    example={**_FIGURES, "reason": "as its certificate says"},
    **_CHECKS,
)
def change_figures_of(call: Call, mode_id: int) -> list[LoadedGauge]:
    """Give a gauge other figures in a mode; old readings keep the old ones."""
    mode = _mode(mode_id)
    form = ChangeFiguresForm(form_data(call.said), mode=mode)
    refuse_form(form)
    reason = form.cleaned_data["reason"]
    change_figures(mode, form.figures(), reason=reason, act=call.act)
    return load_gauges(call.act.at, gauge=mode.gauge)


@makes(
    CheckShown,
    takes=CheckSaid,
    example={"kind": "tonight", "master": "20", "texts": ["20.00", "20.01"]},
    **_CHECKS,
)
def check_a_gauge(call: Call, mode_id: int) -> GaugeCheck:
    """Check a gauge by what it reads of a master, and at zero."""
    mode, body = _mode(mode_id), dict(call.said)
    body["texts"] = " ".join(body["texts"])
    body["right"] = body.pop("confirmed")
    form = CheckForm(form_data(body), mode=mode)
    refuse_form(form)
    return check_by_readings(mode, form.said(), act=call.act)


@writes(
    StudyShown,
    takes=StudySaid,
    example={
        "table": "1,A,1,20.01\n1,A,2,20.02\n1,B,1,20.01\n1,B,2,20.03\n"
        "2,A,1,20.21\n2,A,2,20.20\n2,B,1,20.22\n2,B,2,20.21",
        "method": "analysis of variance",
    },
    **_CHECKS,
)
def adopt_a_study(call: Call, mode_id: int) -> GaugeStudy:
    """Work out a gauge study, and give the gauge the repeatability that it found."""
    mode = _mode(mode_id)
    study = _study(call, mode)
    adopt_repeatability(mode, study.ev, act=call.act)
    return study


@reads(StudyShown, asks=Ability.CHECK_GAUGES, query=StudySaid)
def work_out_a_study(call: Call, mode_id: int) -> GaugeStudy:
    """Work out a gauge study; nothing is written."""
    return _study(call, _mode(mode_id))


def _study(call: Call, mode: GaugeMode) -> GaugeStudy:
    form = StudyForm(form_data(call.said))
    refuse_form(form)
    try:
        table = read_study(form.cleaned_data["table"], unit=mode.unit)
        return gauge_study(table, method=form.cleaned_data["method"])
    except ComputeError as error:
        raise RefusedError.because(error, field="table") from error


def _mode(mode_id: int) -> GaugeMode:
    return get_object_or_404(GaugeMode.objects.select_related("gauge"), pk=mode_id)
