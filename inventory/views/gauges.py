"""Gauges: what stands how, checks against a master, the gauge study."""

from typing import Final

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory.access import allow
from inventory.actions.gauges import (
    add_gauge,
    add_gauges,
    add_mode,
    adopt_repeatability,
    change_figures,
    check_by_readings,
    strike_check,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.errors import ComputeError
from inventory.compute.measuring import (
    GaugeStanding,
    GaugeStudy,
    Instrument,
    gauge_study,
)
from inventory.compute.numbers import from_millionths
from inventory.compute.roles import Ability
from inventory.files.exports import ExportTable
from inventory.files.studies import read_study
from inventory.forms.corrections import ReasonForm
from inventory.forms.gauges import (
    ChangeFiguresForm,
    CheckForm,
    NewGaugeForm,
    NewModeForm,
    StudyForm,
)
from inventory.forms.usual_gauges import UsualGaugesForm
from inventory.loaders.gauges import GaugeWithModes, load_gauges, with_modes
from inventory.models import Gauge, GaugeCheck, GaugeMode
from inventory.views.acts import act_of, form_page, refusals_told
from inventory.views.sent import export_form, sent_tables

CHECKS_A_PAGE: Final = 50


@require_GET
@allow(Ability.LOOK)
def gauges(request: HttpRequest) -> HttpResponse:
    """List the instruments in use: ready ones first, then what needs a check."""
    loaded = with_modes(load_gauges(timezone.now()))
    late = GaugeStanding.NO_CHECK_TONIGHT
    groups = [
        (_("Ready tonight"), [one for one in loaded if _is_ready(one)]),
        (_("Not checked tonight"), [one for one in loaded if one.standing is late]),
        (_("Not to be used: needs a check"), [one for one in loaded if one.is_barred]),
    ]
    return render(
        request,
        "inventory/gauges/gauges.html",
        {"groups": [(title, rows) for title, rows in groups if rows]},
    )


def _is_ready(one: GaugeWithModes) -> bool:
    return one.standing is GaugeStanding.GOOD


@require_GET
@allow(Ability.LOOK)
def export_gauges(request: HttpRequest, form: str) -> HttpResponse:
    """Give the gauges in use as a file, a mode a row, as they come in by a list."""
    table = ExportTable(
        name="gauges",
        headings=(
            "Name",
            "Instrument",
            "Mode",
            "Unit",
            "Step of its display",
            "Largest error allowed",
            "Repeatability",
            "Check every days",
            "standing",
            "last check",
            "due",
        ),
        rows=[
            (
                one.mode.gauge.name,
                one.mode.gauge.instrument,
                one.mode.mode,
                one.mode.unit,
                from_millionths(one.mode.resolution),
                from_millionths(one.mode.max_permissible_error),
                from_millionths(one.mode.repeatability) or None,
                one.mode.gauge.check_every_days,
                one.standing.value,
                one.check.taken_at.date().isoformat() if one.check else None,
                one.due_at.date().isoformat() if one.due_at else None,
            )
            for one in load_gauges(timezone.now())
        ],
    )
    return sent_tables(request, [table], export_form(form), "gauges")


@require_http_methods(["GET", "POST"])
@allow(Ability.CHECK_GAUGES)
def new_gauge(request: HttpRequest) -> HttpResponse:
    """Bring a gauge into use."""
    form = NewGaugeForm(request.POST or None)
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            made = add_gauge(
                name=cleaned["name"],
                instrument=Instrument(cleaned["instrument"]),
                modes=[form.figures()],
                check_every_days=cleaned["check_every_days"],
                act=act_of(request),
            )
            return redirect("inventory:gauge", gauge_id=made.pk)
    return form_page(
        request,
        form,
        "inventory/gauges/new_gauge.html",
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.CHECK_GAUGES)
def usual_gauges(request: HttpRequest) -> HttpResponse:
    """Bring the gauges that a club usually has into use at one go."""
    form = UsualGaugesForm(request.POST or None)
    if form.is_valid():
        with form.refusing():
            made = add_gauges(form.gauges(), act=act_of(request))
            sentence = _("%(names)s: in use once a check has passed.")
            names = ", ".join(one.name for one in made)
            messages.success(request, sentence % {"names": names})
            return redirect("inventory:gauges")
    return form_page(
        request,
        form,
        "inventory/gauges/usual_gauges.html",
    )


@require_GET
@allow(Ability.LOOK)
def gauge(request: HttpRequest, gauge_id: int) -> HttpResponse:
    """Show one gauge: its figures, its checks."""
    gauge = get_object_or_404(Gauge, pk=gauge_id)
    return render(
        request,
        "inventory/gauges/gauge.html",
        {
            "gauge": gauge,
            "modes": load_gauges(timezone.now(), gauge=gauge),
            "before": gauge.modes.exclude(replaced_at=None).order_by("-replaced_at"),
            "checks": Paginator(
                gauge.checks.select_related("by", "strike__by"), CHECKS_A_PAGE
            ).get_page(request.GET.get("checks")),
        },
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.CHECK_GAUGES)
def new_mode(request: HttpRequest, gauge_id: int) -> HttpResponse:
    """Let a gauge be used in one more mode."""
    gauge = get_object_or_404(Gauge, pk=gauge_id)
    form = NewModeForm(request.POST or None, instrument=gauge.instrument)
    if form.is_valid():
        with form.refusing():
            add_mode(gauge, form.figures(), act=act_of(request))
            return redirect("inventory:gauge", gauge_id=gauge.pk)
    return _figures_page(request, gauge, form, _("One more mode"))


@require_http_methods(["GET", "POST"])
@allow(Ability.CHECK_GAUGES)
def figures(request: HttpRequest, mode_id: int) -> HttpResponse:
    """Give a gauge other figures in a mode, with a reason."""
    mode = mode_of(mode_id)
    form = ChangeFiguresForm(request.POST or None, mode=mode)
    if form.is_valid():
        with form.refusing():
            change_figures(
                mode,
                form.figures(),
                reason=form.cleaned_data["reason"],
                act=act_of(request),
            )
            return redirect("inventory:gauge", gauge_id=mode.gauge_id)
    title = _("Figures of the mode “%(mode)s”, in %(unit)s")
    words = {"mode": mode.mode, "unit": mode.unit.symbol}
    return _figures_page(request, mode.gauge, form, title % words)


def _figures_page(
    request: HttpRequest,
    gauge: Gauge,
    form: NewModeForm | ChangeFiguresForm,
    title: str,
) -> HttpResponse:
    return form_page(
        request,
        form,
        "inventory/gauges/gauge_figures.html",
        {"gauge": gauge, "title": title},
    )


#: What a gauge still lacks after a check that it passed.
_LACKING: Final = {
    GaugeStanding.NEVER_CHECKED: _lazy(
        "It is not in use yet: that takes a check against a master as well."
    ),
    GaugeStanding.NO_CHECK_TONIGHT: _lazy(
        "For a night, check it as “tonight” too: at zero and at one size, at the start."
    ),
}


@require_http_methods(["GET", "POST"])
@allow(Ability.CHECK_GAUGES)
def check(request: HttpRequest, mode_id: int) -> HttpResponse:
    """Check a gauge against a master."""
    mode = mode_of(mode_id)
    form = CheckForm(request.POST or None, mode=mode)
    if form.is_valid():
        with form.refusing():
            made = check_by_readings(mode, form.said(), act=act_of(request))
            messages.add_message(
                request,
                messages.SUCCESS if made.result == "passed" else messages.ERROR,
                f"{mode.gauge}: {made.result}.",
            )
            for one in load_gauges(made.taken_at, pk=mode.pk):
                if lacking := _LACKING.get(one.standing):
                    messages.info(request, lacking)
            return redirect("inventory:gauge", gauge_id=mode.gauge_id)
    return form_page(
        request,
        form,
        "inventory/gauges/gauge_check.html",
        {"mode": mode},
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.KEEP_PARTS)
def strike(request: HttpRequest, check_id: int) -> HttpResponse:
    """Strike a check that was typed wrong, with a reason."""
    checks = GaugeCheck.objects.select_related("gauge", "by")
    check = get_object_or_404(checks, pk=check_id)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        with form.refusing():
            strike_check(check, reason=form.cleaned_data["reason"], act=act_of(request))
            return redirect("inventory:gauge", gauge_id=check.gauge_id)
    return form_page(
        request,
        form,
        "inventory/gauges/strike_check.html",
        {"check": check},
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.CHECK_GAUGES)
def study(request: HttpRequest, mode_id: int) -> HttpResponse:
    """Work out a gauge study from pasted readings."""
    mode = mode_of(mode_id)
    form = StudyForm(request.POST or None)
    outcome = study_of(form, mode) if form.is_valid() else None
    return form_page(
        request,
        form,
        "inventory/gauges/gauge_study.html",
        {"mode": mode, "study": outcome},
    )


@require_POST
@allow(Ability.CHECK_GAUGES)
def adopt(request: HttpRequest, mode_id: int) -> HttpResponse:
    """Give the gauge the repeatability that its study found."""
    mode = mode_of(mode_id)
    form = StudyForm(request.POST)
    outcome = study_of(form, mode) if form.is_valid() else None
    if outcome is None:
        return render(
            request,
            "inventory/gauges/gauge_study.html",
            {"mode": mode, "form": form},
            status=422,
        )
    with refusals_told(request):
        adopt_repeatability(mode, outcome.ev, act=act_of(request))
    return redirect("inventory:gauge", gauge_id=mode.gauge_id)


def study_of(form: StudyForm, mode: GaugeMode) -> GaugeStudy | None:
    """Work out a form's study; what is wrong with it goes beside its field."""
    try:
        table = read_study(form.cleaned_data["table"], unit=mode.unit)
        return gauge_study(table, method=form.cleaned_data["method"])
    except ComputeError as error:
        form.refuse(RefusedError.because(error, field="table"))
        return None


def mode_of(mode_id: int) -> GaugeMode:
    """Give a gauge in a mode, or 404."""
    return get_object_or_404(GaugeMode.objects.select_related("gauge"), pk=mode_id)
