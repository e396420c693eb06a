"""Caliper boxes: devices that read on a block for whoever put them there."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from inspection.models.race_nights import Block
from inspection.models.rulebooks import PERSON


class CaliperBox(models.Model):
    """
    A device with a gauge; of its token the hash alone is kept.

    ``block``, ``put_by``, ``put_at``: where it reads now, and for whom; nowhere until
    a scrutineer puts it on a block.
    """

    name = models.CharField(max_length=40)
    gauge_mode = models.ForeignKey(
        "inventory.GaugeMode", models.PROTECT, related_name="+"
    )
    code_sha256 = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)
    block = models.ForeignKey(
        Block, models.SET_NULL, related_name="+", null=True, blank=True
    )
    put_by = models.ForeignKey(
        PERSON, models.PROTECT, related_name="+", null=True, blank=True
    )
    put_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["name", "id"]
        verbose_name_plural = "caliper boxes"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(block=None) | ~Q(put_by=None) & ~Q(put_at=None),
                name="box_on_a_block_reads_for_somebody",
            )
        ]

    def __str__(self) -> str:
        return self.name
