"""Batches of parts as they came in, and files on their way to become one."""

from typing import ClassVar

from django.db import models

from inventory.compute.batches import BatchSource, DraftState
from inventory.compute.stock import PartKind
from inventory.models.gauges import GaugeMode
from inventory.models.parts import Part
from inventory.models.people import Person
from inventory.models.words import one_of, word_field


class Batch(models.Model):
    """
    Parts that came in together: a bag of tyres, a box of motors.

    ``digest`` is of all that a file said, so that the same file comes in once.
    ``words`` are said of every part of it; ``reading_count`` and ``at_edges`` are
    what the caliper road asks of each tyre.
    """

    name = models.CharField(max_length=60)
    kind = word_field(PartKind, max_length=10)
    source = word_field(BatchSource, max_length=10)
    made_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    gauge_mode = models.ForeignKey(
        GaugeMode, models.PROTECT, related_name="+", null=True, blank=True
    )
    file_name = models.CharField(max_length=120, blank=True)
    digest = models.CharField(max_length=64, unique=True, null=True, blank=True)
    #: The same for bags of the same sizes, whatever they are called.
    content = models.CharField(max_length=64, blank=True, db_index=True)
    words = models.JSONField(default=dict, blank=True)
    reading_count = models.PositiveSmallIntegerField(default=3)
    at_edges = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar = ["-made_at", "-id"]
        constraints: ClassVar = [
            one_of("kind", PartKind, name="batch_kind_is_known"),
            one_of("source", BatchSource, name="batch_source_is_known"),
            models.CheckConstraint(
                condition=models.Q(reading_count__gte=1, reading_count__lte=12),
                name="one_to_twelve_readings",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class BatchPart(models.Model):
    """One part of a batch, at its place in it."""

    batch = models.ForeignKey(Batch, models.CASCADE, related_name="members")
    part = models.ForeignKey(Part, models.PROTECT, related_name="batches")
    position = models.PositiveIntegerField()

    class Meta:
        ordering: ClassVar = ["batch", "position"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["batch", "part"], name="part_once_in_a_batch"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch}: {self.part}"


class BatchDraft(models.Model):
    """
    A file on its way in: nothing of it is stock yet.

    ``content`` is the file, ``table`` its cells once they are read (packed JSON),
    ``layout`` what its columns are taken for.  The row is deleted when the batch is
    taken or dropped.
    """

    name = models.CharField(max_length=60)
    #: Empty until the file says it, where nobody has.
    kind = word_field(PartKind, max_length=10, blank=True)
    source = word_field(BatchSource, max_length=10)
    file_name = models.CharField(max_length=120, blank=True)
    content = models.BinaryField()
    by = models.ForeignKey(Person, models.CASCADE, related_name="+")
    made_at = models.DateTimeField()
    gauge_mode = models.ForeignKey(
        GaugeMode, models.CASCADE, related_name="+", null=True, blank=True
    )
    words = models.JSONField(default=dict, blank=True)
    state = word_field(DraftState, max_length=10, default=DraftState.WAITING)
    refusal = models.CharField(max_length=300, blank=True)
    rows_read = models.PositiveIntegerField(default=0)
    rows_in_all = models.PositiveIntegerField(default=0)
    heard_at = models.DateTimeField(null=True, blank=True)
    table = models.BinaryField(null=True, blank=True)
    sheet = models.CharField(max_length=120, blank=True)
    divider = models.CharField(max_length=1, blank=True)
    layout = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering: ClassVar = ["-made_at", "-id"]
        constraints: ClassVar = [
            one_of("kind", PartKind, name="draft_kind_is_known", blank=True),
            one_of("source", BatchSource, name="draft_source_is_known"),
            one_of("state", DraftState, name="draft_state_is_known"),
        ]

    def __str__(self) -> str:
        return self.name


class TableShape(models.Model):
    """What the columns of tables with the same headings were last taken for."""

    shape = models.CharField(max_length=64, unique=True)
    kind = word_field(PartKind, max_length=10)
    layout = models.JSONField()
    said_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.CASCADE, related_name="+")

    class Meta:
        constraints: ClassVar = [
            one_of("kind", PartKind, name="shape_kind_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.kind}, {self.said_at:%Y-%m-%d}"
