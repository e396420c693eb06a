"""Sheets: one car on the block once, and the readings taken of it."""

import datetime as dt
from typing import ClassVar, Self

from django.db import models
from django.db.models import Exists, OuterRef, Q, Subquery
from django.utils.functional import cached_property

from inspection.compute.judging import Outcome
from inspection.compute.night import PartPosition, ReadingKind, SheetState
from inspection.compute.rulebooks import Stage
from inspection.models.race_nights import Block, Entry
from inspection.models.rulebooks import PERSON, Edition, Rule
from inspection.words.quantities import column_name
from inventory.models import Club, FamilyTie
from inventory.models.words import one_of, word_field

#: A check "that evening" is one that is not older than this.
TONIGHT = dt.timedelta(hours=12)
#: Times that every computer can read, whatever its own clock says.
EARLIEST = dt.datetime(1900, 1, 1, tzinfo=dt.UTC)
LATEST = dt.datetime(2200, 1, 1, tzinfo=dt.UTC)


class SheetQuerySet(models.QuerySet["Sheet"]):
    def counting(self) -> Self:
        """Leave out the void ones: what was read on them counts nowhere."""
        return self.filter(void=None)

    def open(self) -> Self:
        return self.filter(void=None, seal=None)

    def knowing_of_own_scatter(self) -> Self:
        """Say of each since when a person's own repeatability counts in the club."""
        return self.annotate(
            own_since=Subquery(Club.objects.values("own_repeatability_since")[:1])
        )

    def knowing_of_family(self) -> Self:
        """Say of each whether anybody is declared family of its owner or driver."""
        people = (OuterRef("entry__car__owner"), OuterRef("entry__driver"))
        return self.annotate(has_family=Exists(FamilyTie.objects.of(*people)))


class Sheet(models.Model):
    """
    The record of one car on the block once.

    Sealed when a seal points to it, void when a SheetVoid does, open until then.
    """

    number = models.CharField(max_length=32, unique=True)
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="sheets")
    edition = models.ForeignKey(Edition, models.PROTECT, related_name="+")
    stage = word_field(Stage, max_length=10)
    block = models.ForeignKey(
        Block, models.PROTECT, related_name="+", null=True, blank=True
    )
    previous = models.ForeignKey(
        "self", models.PROTECT, related_name="+", null=True, blank=True
    )
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    #: When it was measured, where it was written on paper first and typed in later.
    paper_at = models.DateTimeField(null=True, blank=True)

    objects = SheetQuerySet.as_manager()

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

    @property
    def is_void(self) -> bool:
        return hasattr(self, "void")

    @cached_property
    def concerned(self) -> frozenset[int]:
        """Whoever owns or drives the car, and their family; loaded with the sheet."""
        if vars(self).get("has_family", True):
            return self.entry.concerned
        return frozenset({self.entry.car.owner_id, self.entry.driver_id})

    @property
    def is_for_protest(self) -> bool:
        return hasattr(self, "protest_sheet")

    @property
    def state(self) -> SheetState:
        if self.is_void:
            return SheetState.VOID
        return SheetState.SEALED if self.is_sealed else SheetState.OPEN


class SheetVoid(models.Model):
    """A sheet that counts for nothing, and why; what was read on it stays."""

    sheet = models.OneToOneField(Sheet, models.PROTECT, related_name="void")
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=200)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=~Q(reason=""), name="void_has_a_reason")
        ]

    def __str__(self) -> str:
        return f"{self.sheet}: void"


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
    kind = word_field(ReadingKind, max_length=10)
    value = models.BigIntegerField(null=True, blank=True)
    low = models.BigIntegerField(null=True, blank=True)
    high = models.BigIntegerField(null=True, blank=True)
    answer = models.CharField(max_length=3, blank=True)
    text = models.CharField(max_length=40)
    unit_typed = models.CharField(max_length=10, blank=True)
    gauge_mode = models.ForeignKey(
        "inventory.GaugeMode",
        models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        db_index=False,
    )
    gauge_check = models.ForeignKey(
        "inventory.GaugeCheck",
        models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        db_index=False,
    )
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+", db_index=False)
    taken_at = models.DateTimeField()
    received_at = models.DateTimeField()
    #: What the device's clock said, where that was not to be believed.
    clock_said = models.CharField(max_length=40, blank=True, default="")
    was_asked_about = models.BooleanField(default=False)
    #: Read by somebody who owns or drives the car, or by their family.
    is_own_car = models.BooleanField(default=False)
    carried_from = models.ForeignKey(
        "self",
        models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        db_index=False,
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
            # Beyond, a time cannot be turned into another zone's or is not read.
            models.CheckConstraint(
                condition=Q(
                    taken_at__gte=EARLIEST,
                    taken_at__lt=LATEST,
                    received_at__gte=EARLIEST,
                    received_at__lt=LATEST,
                ),
                name="reading_time_can_be_read",
                violation_error_code="reading_time_can_be_read",
            ),
        ]
        # Nothing is looked up by who read it, by its check or by what it was carried
        # over from; an index on the last, nearly always empty, led SQLite to walk
        # all readings for those of one car.
        indexes: ClassVar = [
            models.Index(fields=["gauge_mode", "taken_at"], name="reading_by_gauge"),
        ]

    def __str__(self) -> str:
        return f"{self.column}: {self.text}"

    @property
    def label(self) -> str:
        return column_name(self.column)

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

    sheet = models.ForeignKey(
        Sheet, models.PROTECT, related_name="parts", db_index=False
    )
    position = word_field(PartPosition, max_length=12)
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

    sheet = models.ForeignKey(
        Sheet, models.PROTECT, related_name="findings", db_index=False
    )
    rule = models.ForeignKey(Rule, models.PROTECT, related_name="+")
    outcome = word_field(Outcome, max_length=16)
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
