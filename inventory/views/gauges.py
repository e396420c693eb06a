"""Gauges: what stands how, checks against a master, the gauge study."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory.access import ANYONE_SIGNED_IN, GAUGERS, allow
from inventory.actions.gauges import add_gauge, adopt_repeatability, check_by_readings
from inventory.actions.refusals import RefusedError
from inventory.compute.errors import ComputeError
from inventory.compute.gauge_study import GaugeStudy, gauge_study
from inventory.compute.instruments import Instrument
from inventory.compute.units import Unit
from inventory.files.studies import read_study
from inventory.forms.gauges import CheckForm, NewGaugeForm, StudyForm
from inventory.loaders.gauges import load_gauges
from inventory.models import Gauge, GaugeMode
from inventory.views.acts import act_of


@require_GET
@allow(ANYONE_SIGNED_IN)
def gauges(request: HttpRequest) -> HttpResponse:
    """List the gauges in use, each with its standing."""
    return render(
        request, "inventory/gauges.html", {"gauges": load_gauges(timezone.now())}
    )


@require_http_methods(["GET", "POST"])
@allow(GAUGERS)
def new_gauge(request: HttpRequest) -> HttpResponse:
    """Bring a gauge into use."""
    form = NewGaugeForm(request.POST or None)
    if form.is_valid():
        said = form.cleaned_data
        try:
            made = add_gauge(
                name=said["name"],
                instrument=Instrument(said["instrument"]),
                modes=[form.figures()],
                check_every_days=said["check_every_days"],
                act=act_of(request),
            )
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inventory:gauge", gauge_id=made.pk)
    return render(
        request,
        "inventory/new_gauge.html",
        {"form": form},
        status=422 if form.errors else 200,
    )


@require_GET
@allow(ANYONE_SIGNED_IN)
def gauge(request: HttpRequest, gauge_id: int) -> HttpResponse:
    """Show one gauge: its figures, its checks."""
    found = get_object_or_404(Gauge, pk=gauge_id)
    return render(
        request,
        "inventory/gauge.html",
        {
            "gauge": found,
            "modes": load_gauges(timezone.now(), gauge=found),
            "checks": found.checks.select_related("by")[:50],
        },
    )


@require_http_methods(["GET", "POST"])
@allow(GAUGERS)
def check(request: HttpRequest, mode_id: int) -> HttpResponse:
    """Check a gauge against a master."""
    mode = mode_of(mode_id)
    form = CheckForm(request.POST or None)
    if form.is_valid():
        try:
            made = check_by_readings(mode, form.said(), act=act_of(request))
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            messages.add_message(
                request,
                messages.SUCCESS if made.result == "passed" else messages.ERROR,
                f"{mode.gauge}: {made.result}.",
            )
            return redirect("inventory:gauge", gauge_id=mode.gauge_id)
    return render(
        request,
        "inventory/gauge_check.html",
        {"mode": mode, "form": form},
        status=422 if form.errors else 200,
    )


@require_http_methods(["GET", "POST"])
@allow(GAUGERS)
def study(request: HttpRequest, mode_id: int) -> HttpResponse:
    """Work out a gauge study from pasted readings."""
    mode = mode_of(mode_id)
    form = StudyForm(request.POST or None)
    found = study_of(form, mode) if form.is_valid() else None
    return render(
        request,
        "inventory/gauge_study.html",
        {"mode": mode, "form": form, "study": found},
        status=422 if form.errors else 200,
    )


@require_POST
@allow(GAUGERS)
def adopt(request: HttpRequest, mode_id: int) -> HttpResponse:
    """Give the gauge the repeatability that its study found."""
    mode = mode_of(mode_id)
    form = StudyForm(request.POST)
    found = study_of(form, mode) if form.is_valid() else None
    if found is None:
        return render(
            request,
            "inventory/gauge_study.html",
            {"mode": mode, "form": form},
            status=422,
        )
    try:
        adopt_repeatability(mode, found.ev, act=act_of(request))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
    return redirect("inventory:gauge", gauge_id=mode.gauge_id)


def study_of(form: StudyForm, mode: GaugeMode) -> GaugeStudy | None:
    """Work out a form's study; what is wrong with it goes beside its field."""
    try:
        table = read_study(form.cleaned_data["table"], unit=Unit(mode.unit))
        return gauge_study(table, method=form.cleaned_data["method"])
    except ComputeError as error:
        form.refuse(RefusedError.because(error, field="table"))
        return None


def mode_of(mode_id: int) -> GaugeMode:
    """Give a gauge in a mode, or 404."""
    return get_object_or_404(GaugeMode.objects.select_related("gauge"), pk=mode_id)
