"""The gauges of the years: checked every night, and one found off now and then."""

import datetime as dt
from typing import Final

from deploy.demo.bench import CHECKED_EACH_NIGHT
from inventory.compute.measuring import CheckKind, CheckResult
from inventory.models import Gauge, GaugeCheck, GaugeMode, Person

#: After so many nights all gauges go to the master; a caliper fails there at times.
NIGHTS_A_MASTER, NIGHTS_A_FAILURE = 26, 60
FAILING: Final = "Caliper A"
_DAY: Final = dt.timedelta(days=1)


class Gauges:
    """Every gauge with its last check, as the nights go on."""

    def __init__(self, by: Person) -> None:
        self.by = by
        self.latest: dict[int, GaugeCheck] = {}
        self._by_name = {one.name: one for one in Gauge.objects.all()}
        self._of_mode = dict(GaugeMode.objects.values_list("pk", "gauge"))

    def check_for(self, place: int, opens_at: dt.datetime) -> None:
        """Check what a night is measured with, all against the master at times."""
        if place % NIGHTS_A_MASTER == 0:
            for name in self._by_name:
                self._checked(name, opens_at - _DAY, CheckKind.MASTER)
        for name in CHECKED_EACH_NIGHT:
            self._checked(name, opens_at - _DAY / 144, CheckKind.TONIGHT)

    def check_after(self, place: int, opens_at: dt.datetime) -> None:
        """Find a caliper off the day after, and put it right."""
        if place % NIGHTS_A_FAILURE == 1:
            failed = CheckResult.FAILED
            self._checked(FAILING, opens_at + _DAY, CheckKind.MASTER, failed)
            self._checked(FAILING, opens_at + 2 * _DAY, CheckKind.MASTER)

    def check_of(self, mode_id: int | None) -> GaugeCheck | None:
        """Give the last check of the gauge of a mode."""
        return None if mode_id is None else self.latest[self._of_mode[mode_id]]

    def _checked(
        self,
        name: str,
        at: dt.datetime,
        kind: CheckKind,
        result: CheckResult = CheckResult.PASSED,
    ) -> None:
        gauge = self._by_name[name]
        self.latest[gauge.pk] = GaugeCheck.objects.create(
            gauge=gauge,
            kind=kind,
            result=result,
            taken_at=at,
            by=self.by,
            master=20_000_000,
            bias=0 if result is CheckResult.PASSED else 50_000,
        )
