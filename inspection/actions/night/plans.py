"""Changing a night: its plan before it opens, the class that is called first."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.setting_up.nights import check_editions, refuse_same_night
from inspection.models import Edition, NightClass, RaceClass, RaceNight
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError


@dataclass(frozen=True, kw_only=True)
class NightPlan:
    """What a night is planned by."""

    name: str
    date: dt.date
    place: str
    editions: Mapping[RaceClass, Edition]
    list_closes_at: dt.datetime | None = None


@transaction.atomic
def change_night(night: RaceNight, plan: NightPlan, *, act: Act) -> RaceNight:
    """
    Change a night that is planned and not open yet.

    Writes the RaceNight and its NightClasses; audits ``night.changed``.  Raises
    RefusedError when it was opened, an edition is not the class's, a class with cars
    in it is left out, or another night of that day has the name.
    """
    night = RaceNight.objects.select_for_update().get(pk=night.pk)
    if night.opened_at is not None:
        raise RefusedError(
            code="night_opened",
            sentence=_("%(night)s has been opened: its name and its date stand.")
            % {"night": night},
        )
    editions = plan.editions
    check_editions(editions)
    refuse_same_night(plan.name, plan.date, but=night.pk)
    _refuse_leaving_out(night, editions)
    night.name, night.date, night.place = plan.name, plan.date, plan.place
    night.list_closes_at = plan.list_closes_at
    if night.called_first not in editions:
        night.called_first = None
    night.save()
    night.classes.exclude(race_class__in=editions).delete()
    NightClass.objects.bulk_create(
        [
            NightClass(night=night, race_class=race_class, edition=edition)
            for race_class, edition in editions.items()
        ],
        update_conflicts=True,
        unique_fields=["night", "race_class"],
        update_fields=["edition"],
    )
    record_event("night.changed", subject=night, act=act)
    return night


def _refuse_leaving_out(
    night: RaceNight, editions: Mapping[RaceClass, Edition]
) -> None:
    left = night.entries.exclude(race_class__in=editions).select_related("race_class")
    if entry := left.first():
        raise RefusedError(
            code="class_has_cars",
            sentence=_(
                "Cars are entered in %(race_class)s, number %(entry)s for one: it "
                "races."
            )
            % {"race_class": entry.race_class, "entry": entry.number},
            field=f"class_{entry.race_class_id}",
        )


@transaction.atomic
def close_list(night: RaceNight, *, act: Act) -> RaceNight:
    """
    Close the list now: members enter no cars any more, the desk does.

    Writes the RaceNight; audits ``night.list_closed``.  Raises RefusedError when the
    list or the night is closed.
    """
    night = RaceNight.objects.select_for_update().get(pk=night.pk)
    if night.closed_at is not None or night.is_late_at(act.at):
        raise RefusedError(
            code="list_closed", sentence=_("The list is closed already.")
        )
    night.list_closes_at = act.at
    night.save(update_fields=["list_closes_at"])
    record_event("night.list_closed", subject=night, act=act)
    return night


@transaction.atomic
def call_first(night: RaceNight, race_class: RaceClass | None, *, act: Act) -> None:
    """
    Call a class to the blocks before the others; None: all in the order of time.

    Writes the RaceNight; audits ``night.called``.  Raises RefusedError when the night
    is closed or the class does not race.
    """
    night = RaceNight.objects.select_for_update().get(pk=night.pk)
    if night.closed_at is not None:
        raise RefusedError(
            code="night_closed", sentence=_("%(night)s is closed.") % {"night": night}
        )
    races = night.classes.filter(race_class=race_class)
    if race_class is not None and not races.exists():
        raise RefusedError(
            code="class_not_tonight",
            sentence=_("%(race_class)s does not race on %(night)s.")
            % {"race_class": race_class, "night": night},
        )
    night.called_first = race_class
    night.save(update_fields=["called_first"])
    record_event(
        "night.called",
        subject=night,
        act=act,
        first=race_class.name if race_class else "",
    )
