"""Sheets: one car on the block once, and the readings taken of it."""

import datetime as dt
from typing import ClassVar

from django.db import models
from django.db.models import Q

from inspection.compute.conformity import Outcome
from inspection.compute.entries import PartPosition, ReadingKind
from inspection.compute.quantities import QUANTITIES, column_owner
from inspection.compute.requirements import Stage
from inspection.models.race_nights import Block, Entry
from inspection.models.rulebooks import PERSON, Edition, Rule
from inventory.models.words import choices_of, one_of

#: A check "that evening" is one that is not older than this.
TONIGHT = dt.timedelta(hours=12)


class Sheet(models.Model):
    """The record of one car on the block once; sealed when a seal points to it."""

    number = models.CharField(max_length=16, unique=True)
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="sheets")
    edition = models.ForeignKey(Edition, models.PROTECT, related_name="+")
    stage = models.CharField(max_length=10, choices=choices_of(Stage))
    block = models.ForeignKey(
        Block, models.PROTECT, related_name="+", null=True, blank=True
    )
    previous = models.ForeignKey(
        "self", models.PROTECT, related_name="+", null=True, blank=True
    )
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["-started_at", "-id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(stage__in=[Stage.BEFORE, Stage.AFTER]),
                name="sheet_stage_is_before_or_after",
                violation_error_code="sheet_stage_is_before_or_after",
            )
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def is_sealed(self) -> bool:
        return hasattr(self, "seal")


class SheetReading(models.Model):
    """
    One value off one gauge by one person; rows are never changed.

    ``value``, ``low`` and ``high`` are millionths of the quantity's unit.  A
    value has ``value``; an interval has ``low`` and ``high``; a go gauge has the
    limit in ``value`` and says in ``answer`` whether it went; a look has
    ``answer`` only.  ``reading_id`` is made where the reading is typed: the
    same one sent twice is one row.
    """

    sheet = models.ForeignKey(Sheet, models.PROTECT, related_name="readings")
    reading_id = models.UUIDField(unique=True)
    column = models.CharField(max_length=44)
    kind = models.CharField(max_length=10, choices=choices_of(ReadingKind))
    value = models.BigIntegerField(null=True, blank=True)
    low = models.BigIntegerField(null=True, blank=True)
    high = models.BigIntegerField(null=True, blank=True)
    answer = models.CharField(max_length=3, blank=True)
    text = models.CharField(max_length=40)
    unit_typed = models.CharField(max_length=10, blank=True)
    gauge_mode = models.ForeignKey(
        "inventory.GaugeMode", models.PROTECT, related_name="+", null=True, blank=True
    )
    gauge_check = models.ForeignKey(
        "inventory.GaugeCheck", models.PROTECT, related_name="+", null=True, blank=True
    )
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    taken_at = models.DateTimeField()
    received_at = models.DateTimeField()
    was_asked_about = models.BooleanField(default=False)
    carried_from = models.ForeignKey(
        "self", models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            one_of("kind", ReadingKind, name="reading_kind_is_known"),
            models.CheckConstraint(
                condition=(
                    Q(kind__in=[ReadingKind.VALUE, ReadingKind.COUNT], answer="")
                    & ~Q(value=None)
                )
                | (
                    Q(kind=ReadingKind.INTERVAL, answer="", low__lte=models.F("high"))
                    & ~Q(low=None)
                    & ~Q(high=None)
                )
                | (
                    Q(kind=ReadingKind.GO_GAUGE, answer__in=["yes", "no"])
                    & ~Q(value=None)
                )
                | Q(kind=ReadingKind.LOOK, answer__in=["yes", "no"]),
                name="reading_says_its_value",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.column}: {self.text}"

    @property
    def label(self) -> str:
        key, side = column_owner(self.column)
        label = QUANTITIES[key].label
        return f"{label}, {side}" if side else label

    @property
    def had_no_check_tonight(self) -> bool:
        """Whether the gauge had not been checked that evening."""
        if self.gauge_check is None:
            return self.gauge_mode is not None
        return self.taken_at - self.gauge_check.taken_at > TONIGHT


class Strike(models.Model):
    """A reading that no longer counts, and why; the reading itself stays."""

    reading = models.OneToOneField(SheetReading, models.PROTECT, related_name="strike")
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=200)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=~Q(reason=""), name="strike_has_a_reason")
        ]

    def __str__(self) -> str:
        return f"{self.reading}: struck"


class SheetPart(models.Model):
    """A part that sat on the car when it came to the block."""

    sheet = models.ForeignKey(Sheet, models.PROTECT, related_name="parts")
    position = models.CharField(max_length=12, choices=choices_of(PartPosition))
    part = models.ForeignKey("inventory.Part", models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar = [
            one_of("position", PartPosition, name="sheet_part_position_is_known"),
            models.UniqueConstraint(
                fields=["sheet", "position"], name="one_sheet_part_a_position"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position}: {self.part}"


class Finding(models.Model):
    """What a rule said of the car when the sheet was sealed; never changed."""

    sheet = models.ForeignKey(Sheet, models.PROTECT, related_name="findings")
    rule = models.ForeignKey(Rule, models.PROTECT, related_name="+")
    outcome = models.CharField(max_length=16, choices=choices_of(Outcome))
    is_admitted = models.BooleanField()
    is_taken = models.BooleanField()
    value = models.BigIntegerField(null=True, blank=True)
    u_value = models.BigIntegerField(null=True, blank=True)
    margin = models.BigIntegerField(null=True, blank=True)
    probability = models.FloatField(null=True, blank=True)
    point = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering: ClassVar = ["rule__position"]
        constraints: ClassVar = [
            one_of("outcome", Outcome, name="outcome_is_known"),
            models.UniqueConstraint(
                fields=["sheet", "rule"], name="one_finding_a_rule"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.rule.number}: {self.outcome}"
