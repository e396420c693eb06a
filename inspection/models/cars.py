"""Cars, their stored geometry and the parts fitted to them."""

from typing import ClassVar, Self

from django.db import models
from django.db.models import Q
from django.utils.functional import cached_property

from inspection.compute.night import PartPosition
from inspection.compute.quantities import FrontCarrier, Layout
from inspection.models.rulebooks import PERSON, RaceClass
from inventory.models import FamilyTie, Person
from inventory.models.words import one_of, word_field


class CarQuerySet(models.QuerySet["Car"]):
    def racing(self) -> Self:
        """Leave out those that are retired."""
        return self.filter(retired_at=None)


class Car(models.Model):
    """
    A member's car, known for ever by its tag.

    ``number`` is the one it usually races with; the number of a night and class
    is its entry's.  ``lent_to``: who races it until the owner has it back.
    """

    tag = models.CharField(max_length=12, unique=True)
    number = models.CharField(max_length=8)
    name = models.CharField(max_length=60)
    owner = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    race_class = models.ForeignKey(RaceClass, models.PROTECT, related_name="cars")
    layout = word_field(Layout, max_length=12)
    front_carrier = word_field(FrontCarrier, max_length=12)
    changed_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)
    lent_to = models.ForeignKey(
        PERSON, models.PROTECT, related_name="+", null=True, blank=True
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = CarQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["number", "tag"]
        constraints: ClassVar = [
            one_of("layout", Layout, name="layout_is_known"),
            one_of("front_carrier", FrontCarrier, name="front_carrier_is_known"),
            models.CheckConstraint(
                condition=Q(lent_to=None) | Q(retired_at=None),
                name="no_retired_car_is_lent",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"

    @property
    def called(self) -> str:
        """The car as it is told from every other."""
        return f"{self} · {self.tag}"

    @cached_property
    def concerned(self) -> frozenset[int]:
        """Whoever owns or has it, and their family; a query, kept."""
        return FamilyTie.objects.with_family({self.owner_id, self.usual_driver.pk})

    @property
    def usual_driver(self) -> Person:
        """Whoever has it: the owner, or who borrowed it."""
        return self.lent_to or self.owner


class CarValueQuerySet(models.QuerySet["CarValue"]):
    def current(self) -> Self:
        return self.filter(superseded_at=None)


class CarValue(models.Model):
    """
    One value of a car's stored geometry, in millionths of the quantity's unit.

    A rebuilt car gets a new row; the one before is kept, superseded.  Without a
    gauge both parts of its uncertainty are 0.  ``is_declared``: said by somebody who
    does not measure for the club, or true before that area of the car was changed;
    it proves nothing on the block.
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
    is_declared = models.BooleanField(default=False)
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
    position = word_field(PartPosition, max_length=12)
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
