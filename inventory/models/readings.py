"""Readings of parts off the car, and the estimate each set of them makes."""

from typing import ClassVar, Self

from django.db import models
from django.db.models import Q

from inventory.compute.stock import PartQuantity, Section
from inventory.models.gauges import GaugeCheck, GaugeMode
from inventory.models.parts import Part
from inventory.models.people import Person
from inventory.models.words import one_of, word_field


class PartEstimateQuerySet(models.QuerySet["PartEstimate"]):
    def current(self) -> Self:
        return self.filter(superseded_at=None)


class PartEstimate(models.Model):
    """
    What one set of readings says of one quantity of a part.

    Millionths of the quantity's unit.  The newest set is the current one; a
    set is one person with one gauge at one time.
    """

    part = models.ForeignKey(Part, models.PROTECT, related_name="estimates")
    quantity = word_field(PartQuantity, max_length=20)
    value = models.BigIntegerField()
    random = models.BigIntegerField(default=0)
    systematic = models.BigIntegerField(default=0)
    count = models.PositiveSmallIntegerField(default=1)
    gauge_mode = models.ForeignKey(
        GaugeMode,
        models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        db_index=False,
    )
    gauge_check = models.ForeignKey(
        GaugeCheck,
        models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        db_index=False,
    )
    taken_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+", db_index=False)
    source = models.CharField(max_length=60, blank=True)
    superseded_at = models.DateTimeField(null=True, blank=True)
    #: The set of which this is made anew, without what was struck.
    restates = models.ForeignKey(
        "self",
        models.PROTECT,
        related_name="restated",
        null=True,
        blank=True,
    )

    objects = PartEstimateQuerySet.as_manager()

    class Meta:
        constraints: ClassVar = [
            one_of("quantity", PartQuantity, name="part_quantity_is_known"),
            models.UniqueConstraint(
                fields=["part", "quantity"],
                condition=Q(superseded_at=None),
                name="one_current_estimate",
            ),
            models.CheckConstraint(
                condition=Q(random__gte=0) & Q(systematic__gte=0),
                name="estimate_uncertainty_is_not_negative",
            ),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["quantity", "value"],
                condition=Q(superseded_at=None),
                name="current_estimate_by_value",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part}: {self.quantity}"


class PartReading(models.Model):
    """One value off one gauge; rows are never changed."""

    estimate = models.ForeignKey(PartEstimate, models.PROTECT, related_name="readings")
    reading_id = models.UUIDField(unique=True)
    value = models.BigIntegerField()
    text = models.CharField(max_length=40)
    unit_typed = models.CharField(max_length=10, blank=True)
    section = word_field(Section, max_length=10, default=Section.MIDDLE)
    angle_index = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            one_of("section", Section, name="section_is_known"),
        ]

    def __str__(self) -> str:
        return self.text
