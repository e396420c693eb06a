"""The report to the race director, given out once."""

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.loaders.night.reports import load_report, standings_of
from inspection.models import NightReport, RaceNight
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError


@transaction.atomic
def give_report(night: RaceNight, *, act: Act) -> NightReport:
    """
    Give the report out as it stands; each ruling from now on is an amendment to it.

    Writes a NightReport; audits ``report.given``.  Raises RefusedError when the night
    was not opened, or the report is out already.
    """
    night = RaceNight.objects.select_for_update().get(pk=night.pk)
    if night.opened_at is None:
        raise RefusedError(
            code="night_not_open",
            sentence=_("%(night)s has not been opened yet.") % {"night": night},
        )
    if NightReport.objects.filter(night=night).exists():
        raise RefusedError(
            code="report_given",
            sentence=_(
                "The report is out already: later rulings amend it by themselves."
            ),
        )
    report = NightReport.objects.create(
        night=night,
        standings=standings_of(load_report(night, act.at)),
        by=act.by,
        at=act.at,
    )
    record_event("report.given", subject=night, act=act)
    return report
