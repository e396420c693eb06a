"""Stocktakes: what was to lie in a drawer, and what lay there."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from inventory.compute.stock import Counted
from inventory.models.parts import Part
from inventory.models.people import Person
from inventory.models.words import one_of, word_field


class Stocktake(models.Model):
    """A drawer that is counted; one at a time, and closed once."""

    drawer = models.CharField(max_length=40, db_index=True)
    started_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        Person, models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta:
        ordering: ClassVar = ["-started_at", "-id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["drawer"],
                condition=Q(closed_at=None),
                name="one_open_stocktake_a_drawer",
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by=None)
                | (~Q(closed_at=None) & ~Q(closed_by=None)),
                name="stocktake_is_closed_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.drawer}, {self.started_at:%Y-%m-%d}"


class StocktakeTick(models.Model):
    """Something that lay in the drawer, while it is counted."""

    stocktake = models.ForeignKey(Stocktake, models.CASCADE, related_name="ticks")
    tag = models.CharField(max_length=40)
    part = models.ForeignKey(
        Part, models.CASCADE, related_name="+", null=True, blank=True
    )

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["stocktake", "tag"], name="ticked_once_a_stocktake"
            ),
        ]

    def __str__(self) -> str:
        return self.tag


class StocktakeLine(models.Model):
    """What a closed stocktake says of one part; rows are never changed."""

    stocktake = models.ForeignKey(Stocktake, models.PROTECT, related_name="lines")
    tag = models.CharField(max_length=40)
    #: None where the stock knows no such tag.
    part = models.ForeignKey(
        Part, models.PROTECT, related_name="+", null=True, blank=True
    )
    counted = word_field(Counted, max_length=10)
    #: Where the stock had it then, and how.
    drawer = models.CharField(max_length=40, blank=True)
    state = models.CharField(max_length=20, blank=True)

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            one_of("counted", Counted, name="counted_is_known"),
            models.CheckConstraint(
                condition=Q(counted=Counted.SURPLUS.value) | ~Q(part=None),
                name="only_surplus_is_unknown",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tag}: {self.counted}"
