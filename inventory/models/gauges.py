"""Gauges, the modes they are used in, and their checks."""

import datetime as dt
from typing import ClassVar

from django.db import models
from django.db.models import Q

from inventory.compute.measuring import (
    CheckKind,
    CheckResult,
    Instrument,
    modes_of,
)
from inventory.compute.measuring import GaugeMode as Mode
from inventory.compute.numbers import Unit
from inventory.models.people import Person
from inventory.models.words import one_of, word_field


class GaugeQuerySet(models.QuerySet["Gauge"]):
    def in_use(self) -> "GaugeQuerySet":
        return self.filter(retired_at=None)


class Gauge(models.Model):
    """An instrument: a caliper, a set of slips, a scale."""

    name = models.CharField(max_length=60, unique=True)
    instrument = word_field(Instrument, max_length=20)
    check_every_days = models.PositiveSmallIntegerField(default=365)
    note = models.CharField(max_length=200, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = GaugeQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["name"]
        constraints: ClassVar = [
            one_of("instrument", Instrument, name="instrument_is_known"),
            models.CheckConstraint(
                condition=Q(check_every_days__gte=1), name="check_interval_is_positive"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class GaugeMode(models.Model):
    """
    A gauge in one mode, with the errors it may have there.

    Millionths of ``unit``.  A change of figures is a new row (``replaced_at``),
    so that an old reading keeps the figures it was taken with.
    """

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="modes")
    mode = word_field(Mode, max_length=10)
    unit = word_field(Unit, max_length=10)
    resolution = models.BigIntegerField()
    max_permissible_error = models.BigIntegerField()
    repeatability = models.BigIntegerField(default=0)
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["gauge", "id"]
        constraints: ClassVar = [
            one_of("mode", Mode, name="gauge_mode_is_known"),
            one_of("unit", Unit, name="gauge_unit_is_known"),
            models.CheckConstraint(
                condition=Q(resolution__gte=0)
                & Q(max_permissible_error__gte=0)
                & Q(repeatability__gte=0),
                name="gauge_errors_are_not_negative",
            ),
            models.UniqueConstraint(
                fields=["gauge", "mode", "unit"],
                condition=Q(replaced_at=None),
                name="one_set_of_figures_a_mode",
            ),
        ]

    def __str__(self) -> str:
        # Of an instrument that is held in one way alone the name says all.
        has_ways = len(modes_of(self.gauge.instrument)) > 1
        return f"{self.gauge}, {self.mode}" if has_ways else str(self.gauge)


class GaugeCheckQuerySet(models.QuerySet["GaugeCheck"]):
    def counting(self) -> "GaugeCheckQuerySet":
        """Leave out the struck ones: a check that was typed wrong says nothing."""
        return self.filter(strike=None)


class GaugeCheck(models.Model):
    """One check of a gauge: against the master, or tonight at zero and about 20 mm."""

    gauge = models.ForeignKey(
        Gauge, models.PROTECT, related_name="checks", db_index=False
    )
    kind = word_field(CheckKind, max_length=20)
    result = word_field(CheckResult, max_length=10)
    taken_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+", db_index=False)
    master = models.BigIntegerField(null=True, blank=True)
    bias = models.BigIntegerField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    objects = GaugeCheckQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-taken_at", "-id"]
        constraints: ClassVar = [
            one_of("kind", CheckKind, name="check_kind_is_known"),
            one_of("result", CheckResult, name="check_result_is_known"),
        ]
        indexes: ClassVar = [
            models.Index(fields=["gauge", "taken_at", "id"], name="check_by_gauge"),
            models.Index(
                fields=["gauge", "taken_at"],
                condition=Q(result=CheckResult.FAILED),
                name="failed_check_by_gauge",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.gauge}: {self.kind} {self.result}"

    @property
    def due_at(self) -> dt.datetime:
        return self.taken_at + dt.timedelta(days=self.gauge.check_every_days)


class CheckStrike(models.Model):
    """Why a check of a gauge does not count; the check stays, and so does this row."""

    of = models.OneToOneField(GaugeCheck, models.PROTECT, related_name="strike")
    reason = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(reason=""), name="struck_check_has_a_reason"
            )
        ]

    def __str__(self) -> str:
        return f"{self.of}: struck"
