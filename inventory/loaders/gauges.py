"""Gauges as they may be used now: their figures and how their checks stand."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import OuterRef, QuerySet, Subquery

from inventory.compute.instruments import CheckKind, CheckResult, GaugeStanding
from inventory.models import GaugeCheck, GaugeMode

#: A check "tonight" is one that is not older than this.
TONIGHT = dt.timedelta(hours=12)


@dataclass(frozen=True, kw_only=True)
class LoadedGauge:
    """A gauge in one mode, with its standing and the check it rests on."""

    mode: GaugeMode
    standing: GaugeStanding
    check: GaugeCheck | None
    due_at: dt.datetime | None

    @property
    def check_id(self) -> int | None:
        return self.check.pk if self.check else None

    @property
    def is_barred(self) -> bool:
        return self.standing in {
            GaugeStanding.FAILED,
            GaugeStanding.OVERDUE,
            GaugeStanding.NEVER_CHECKED,
        }


def load_gauges(now: dt.datetime, **only: object) -> list[LoadedGauge]:
    """Load gauges in use, each mode a row, in one query."""
    rows = _with_checks(
        GaugeMode.objects.filter(replaced_at=None, gauge__retired_at=None, **only)
        .select_related("gauge")
        .order_by("gauge__name", "mode")
    )
    return [_loaded(row, now) for row in rows]


def _with_checks(modes: QuerySet[GaugeMode]) -> QuerySet[GaugeMode]:
    checks = GaugeCheck.objects.filter(gauge=OuterRef("gauge")).order_by(
        "-taken_at", "-id"
    )
    master = checks.filter(kind=CheckKind.MASTER)
    tonight = checks.filter(kind=CheckKind.TONIGHT)
    return modes.annotate(
        check_id=Subquery(checks.values("id")[:1]),
        check_kind=Subquery(checks.values("kind")[:1]),
        check_result=Subquery(checks.values("result")[:1]),
        check_at=Subquery(checks.values("taken_at")[:1]),
        master_at=Subquery(master.values("taken_at")[:1]),
        tonight_at=Subquery(tonight.values("taken_at")[:1]),
    )


def _loaded(row: GaugeMode, now: dt.datetime) -> LoadedGauge:
    said = vars(row)
    due_at = (
        said["master_at"] + dt.timedelta(days=row.gauge.check_every_days)
        if said["master_at"]
        else None
    )
    return LoadedGauge(
        mode=row,
        standing=_standing(
            result=said["check_result"],
            due_at=due_at,
            tonight_at=said["tonight_at"],
            now=now,
        ),
        check=_last_check(row),
        due_at=due_at,
    )


def _last_check(row: GaugeMode) -> GaugeCheck | None:
    """Give the last check as the one query read it, without who and what."""
    said = vars(row)
    if said["check_id"] is None:
        return None
    return GaugeCheck(
        id=said["check_id"],
        gauge_id=row.gauge_id,
        kind=said["check_kind"],
        result=said["check_result"],
        taken_at=said["check_at"],
    )


def _standing(
    *,
    result: str | None,
    due_at: dt.datetime | None,
    tonight_at: dt.datetime | None,
    now: dt.datetime,
) -> GaugeStanding:
    if result == CheckResult.FAILED:
        return GaugeStanding.FAILED
    if due_at is None:
        return GaugeStanding.NEVER_CHECKED
    if due_at < now:
        return GaugeStanding.OVERDUE
    if tonight_at is None or now - tonight_at > TONIGHT:
        return GaugeStanding.NO_CHECK_TONIGHT
    return GaugeStanding.GOOD
