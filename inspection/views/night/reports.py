"""The report to the race director: on screen, printed, as a file."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inspection.actions.night.reports import give_report
from inspection.loaders.night.reports import Report, load_report
from inspection.models import RaceNight
from inventory.access import allow
from inventory.actions.audit import record_export
from inventory.compute.roles import Ability
from inventory.files.exports import MEDIA, ExportForm, ExportTable, write_table
from inventory.views.acts import act_of, refusals_told
from inventory.views.sent import as_file

_HEADINGS = (
    "class",
    "number",
    "car",
    "driver",
    "stands",
    "why",
    "held",
    "checked after",
    "by the owner, the driver or family",
    "sheet",
    "stood in the report",
    "at",
    "by",
)


@require_GET
@allow(Ability.LOOK)
def report(request: HttpRequest, night_id: int) -> HttpResponse:
    """Show who may start and who not, class by class, and what was ruled since."""
    nights = RaceNight.objects.select_related("report__by")
    night = get_object_or_404(nights, pk=night_id)
    now = timezone.now()
    return render(
        request,
        "inspection/night/report.html",
        {"night": night, "report": load_report(night, now), "now": now},
    )


@require_GET
@allow(Ability.LOOK)
def report_file(request: HttpRequest, night_id: int) -> HttpResponse:
    """Give the report and its amendments as CSV."""
    night = get_object_or_404(RaceNight, pk=night_id)
    act = act_of(request)
    record_export(night, act=act, form=ExportForm.CSV)
    media, ending = MEDIA[ExportForm.CSV]
    table = _table(load_report(night, act.at))
    content = write_table(table, ExportForm.CSV)
    reply = HttpResponse(content, content_type=media)
    return as_file(reply, f"report-{night.pk}.{ending}")


def _table(report: Report) -> ExportTable:
    rows = [
        (
            line.entry.race_class.name,
            line.entry.number,
            line.entry.car.name,
            line.entry.driver.name,
            line.standing.value,
            line.why,
            "held" if line.is_held else "",
            "yes" if line.is_checked_after else "",
            "yes" if line.is_by_concerned else "",
            line.sheet,
            line.was,
            "",
            "",
        )
        for line in report.lines
    ]
    amendments = [
        (
            f"amendment {one.number}",
            "",
            one.of,
            "",
            "",
            one.says,
            "",
            "",
            "",
            "",
            "",
            timezone.localtime(one.at).strftime("%Y-%m-%d %H:%M"),
            one.by,
        )
        for one in report.amendments
    ]
    return ExportTable(
        name=str(report.night), headings=_HEADINGS, rows=[*rows, *amendments]
    )


@require_POST
@allow(Ability.RUN_NIGHTS)
def give(request: HttpRequest, night_id: int) -> HttpResponse:
    """Give the report out; what is ruled from now on amends it."""
    night = get_object_or_404(RaceNight, pk=night_id)
    with refusals_told(request):
        give_report(night, act=act_of(request))
    return redirect("inspection:report", night_id=night.pk)
