"""Cars, their stored geometry and the parts fitted to them."""

from typing import ClassVar, Self

from django.db import models
from django.db.models import Q

from inspection.compute.entries import PartPosition
from inspection.compute.quantity import FrontCarrier, Layout
from inspection.models.rulebooks import PERSON, RaceClass
from inventory.models.words import choices_of, one_of


class Car(models.Model):
    """A member's car; ``number`` is what is painted on it."""

    number = models.CharField(max_length=8, unique=True)
    name = models.CharField(max_length=60)
    owner = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    race_class = models.ForeignKey(RaceClass, models.PROTECT, related_name="cars")
    layout = models.CharField(max_length=12, choices=choices_of(Layout))
    front_carrier = models.CharField(max_length=12, choices=choices_of(FrontCarrier))
    changed_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["number"]
        constraints: ClassVar = [
            one_of("layout", Layout, name="layout_is_known"),
            one_of("front_carrier", FrontCarrier, name="front_carrier_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"


class CarValueQuerySet(models.QuerySet["CarValue"]):
    def current(self) -> Self:
        return self.filter(superseded_at=None)


class CarValue(models.Model):
    """
    One value of a car's stored geometry, in millionths of the quantity's unit.

    A rebuilt car gets a new row; the one before is kept, superseded.  Without a
    gauge the value is declared: both parts of its uncertainty are 0.
    """

    car = models.ForeignKey(Car, models.PROTECT, related_name="values")
    column = models.CharField(max_length=44)
    value = models.BigIntegerField()
    text = models.CharField(max_length=40)
    gauge_mode = models.ForeignKey(
        "inventory.GaugeMode", models.PROTECT, related_name="+", null=True, blank=True
    )
    gauge_check = models.ForeignKey(
        "inventory.GaugeCheck", models.PROTECT, related_name="+", null=True, blank=True
    )
    taken_at = models.DateTimeField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    superseded_at = models.DateTimeField(null=True, blank=True)

    objects = CarValueQuerySet.as_manager()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["car", "column"],
                condition=Q(superseded_at=None),
                name="one_current_value_a_column",
            )
        ]

    def __str__(self) -> str:
        return f"{self.car.number}: {self.column}"


class FittedPart(models.Model):
    """A part of the inventory in its place on a car."""

    car = models.ForeignKey(Car, models.PROTECT, related_name="fitted")
    position = models.CharField(max_length=12, choices=choices_of(PartPosition))
    part = models.ForeignKey("inventory.Part", models.PROTECT, related_name="+")
    fitted_at = models.DateTimeField()
    fitted_by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    removed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints: ClassVar = [
            one_of("position", PartPosition, name="part_position_is_known"),
            models.UniqueConstraint(
                fields=["car", "position"],
                condition=Q(removed_at=None),
                name="one_part_a_position",
            ),
            models.UniqueConstraint(
                fields=["part"],
                condition=Q(removed_at=None),
                name="one_position_a_part",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.car.number}, {self.position}: {self.part}"
