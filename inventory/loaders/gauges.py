"""Gauges as they may be used now: their figures and how their checks stand."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from django.db.models import OuterRef, QuerySet, Subquery

from inventory.compute.measuring import (
    CheckKind,
    CheckResult,
    GaugeStanding,
    modes_of,
)
from inventory.compute.measuring import Gauge as ComputeGauge
from inventory.compute.measuring import GaugeMode as Mode
from inventory.compute.numbers import from_millionths
from inventory.loaders.prepared import STAND_IN, Prepared
from inventory.models import Gauge, GaugeCheck, GaugeMode

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

    def may_stand_in_for(self, other: "LoadedGauge") -> bool:
        """Whether it is another gauge of the same kind, held so, that may be used."""
        mine, theirs = self.mode, other.mode
        held_so = (mine.mode, mine.unit) == (theirs.mode, theirs.unit)
        is_alike = mine.gauge.instrument == theirs.gauge.instrument
        is_another = mine.gauge_id != theirs.gauge_id
        return is_another and held_so and is_alike and not self.is_barred


def compute_gauge(mode: GaugeMode, *, least_repeatability: float = 0.0) -> ComputeGauge:
    """
    Give a gauge in a mode its three figures, in its unit.

    ``least_repeatability``: what is read with it never repeats better than that,
    whatever the gauge does (a soft tyre, a coil that warms up).
    """
    return _figures(
        mode.resolution,
        mode.max_permissible_error,
        mode.repeatability,
        least_repeatability,
    )


# A sheet asks for the gauge of each of its values, and has a few.
@lru_cache(maxsize=1_000)
def _figures(
    resolution: int,
    max_permissible_error: int,
    repeatability: int,
    least_repeatability: float,
) -> ComputeGauge:
    return ComputeGauge(
        from_millionths(resolution),
        from_millionths(max_permissible_error),
        max(from_millionths(repeatability), least_repeatability),
    )


def load_gauges(now: dt.datetime, **only: object) -> list[LoadedGauge]:
    """Load gauges in use, each mode a row, in one query."""
    rows = _in_use(**only) if only else _EVERY.rows()
    return [_loaded(row, now) for row in rows]


def load_gauge(mode: int, *, now: dt.datetime) -> LoadedGauge | None:
    """Load one gauge in use, in one mode, by the mode's number."""
    rows = _OF_MODE.rows(mode)
    return _loaded(rows[0], now) if rows else None


def _in_use(**only: object) -> QuerySet[GaugeMode]:
    return _with_checks(
        GaugeMode.objects.filter(replaced_at=None, gauge__retired_at=None, **only)
        .select_related("gauge")
        .order_by("gauge__name", "mode")
    )


def _of_mode(mode: int) -> QuerySet[GaugeMode]:
    return _in_use(pk=mode)


_EVERY: Final[Prepared[GaugeMode]] = Prepared(_in_use)
_OF_MODE: Final[Prepared[GaugeMode]] = Prepared(_of_mode, STAND_IN)


@dataclass(frozen=True, kw_only=True)
class GaugeWithModes:
    """One instrument, with the ways that it is held in, and how it stands."""

    gauge: Gauge
    modes: tuple[LoadedGauge, ...]

    @property
    def standing(self) -> GaugeStanding:
        """A check is of the whole instrument."""
        return self.modes[0].standing

    @property
    def is_barred(self) -> bool:
        return self.modes[0].is_barred

    @property
    def due_at(self) -> dt.datetime | None:
        return self.modes[0].due_at

    @property
    def has_ways(self) -> bool:
        """Whether it can be held in more ways than one."""
        return len(modes_of(self.gauge.instrument)) > 1


def with_modes(rows: Iterable[LoadedGauge]) -> list[GaugeWithModes]:
    """Put the modes of each gauge into one row; ready ones first, then by name."""
    by_gauge: dict[int, list[LoadedGauge]] = {}
    for row in rows:
        by_gauge.setdefault(row.mode.gauge_id, []).append(row)
    gauges = [
        GaugeWithModes(gauge=rows[0].mode.gauge, modes=tuple(_usual_first(rows)))
        for rows in by_gauge.values()
    ]
    return sorted(gauges, key=lambda one: (*_turn(one.standing), one.gauge.name))


def _usual_first(rows: Iterable[LoadedGauge]) -> list[LoadedGauge]:
    order = list(Mode)
    return sorted(rows, key=lambda row: order.index(row.mode.mode))


def _turn(standing: GaugeStanding) -> tuple[bool, bool]:
    ready = standing is GaugeStanding.GOOD
    return not ready, standing is not GaugeStanding.NO_CHECK_TONIGHT


def may_be_chosen(rows: Iterable[LoadedGauge]) -> list[LoadedGauge]:
    """Keep the gauges that may be used now, those in order first."""
    usable = [row for row in rows if not row.is_barred]
    return sorted(usable, key=lambda row: _turn(row.standing))


def _with_checks(modes: QuerySet[GaugeMode]) -> QuerySet[GaugeMode]:
    checks = GaugeCheck.objects.counting().filter(gauge=OuterRef("gauge"))
    checks = checks.order_by("-taken_at", "-id")
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
    columns = vars(row)
    due_at = (
        columns["master_at"] + dt.timedelta(days=row.gauge.check_every_days)
        if columns["master_at"]
        else None
    )
    return LoadedGauge(
        mode=row,
        standing=_standing(
            result=columns["check_result"],
            due_at=due_at,
            tonight_at=columns["tonight_at"],
            now=now,
        ),
        check=_last_check(row),
        due_at=due_at,
    )


def _last_check(row: GaugeMode) -> GaugeCheck | None:
    """Give the last check as the one query read it, without who and what."""
    columns = vars(row)
    if columns["check_id"] is None:
        return None
    return GaugeCheck(
        id=columns["check_id"],
        gauge_id=row.gauge_id,
        kind=columns["check_kind"],
        result=columns["check_result"],
        taken_at=columns["check_at"],
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
