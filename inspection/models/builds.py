"""What a car's builder takes of it beside the rulebook: room for parts, jig sheets."""

from typing import ClassVar, Self

from django.db import models

from inspection.models.cars import Car
from inspection.models.rulebooks import PERSON


class RoomSizeQuerySet(models.QuerySet["RoomSize"]):
    def current(self) -> Self:
        return self.filter(superseded_at=None)


class RoomSize(models.Model):
    """
    One size of a car that no rule speaks of and a part must fit.

    Millionths of a millimetre; none where nothing is in the way.  A new row
    supersedes the one before.
    """

    car = models.ForeignKey(Car, models.PROTECT, related_name="room_sizes")
    size = models.CharField(max_length=30)
    value = models.BigIntegerField(null=True, blank=True)
    text = models.CharField(max_length=40)
    taken_at = models.DateTimeField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    superseded_at = models.DateTimeField(null=True, blank=True)

    objects = RoomSizeQuerySet.as_manager()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["car", "size"],
                condition=models.Q(superseded_at=None),
                name="one_current_room_size",
            )
        ]

    def __str__(self) -> str:
        return f"{self.car.number}: {self.size}"


class SavedJig(models.Model):
    """A jig sheet as it was typed for a car; rows are never changed."""

    car = models.ForeignKey(Car, models.PROTECT, related_name="jigs")
    typed = models.JSONField()
    at = models.DateTimeField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.car}: jig of {self.at:%Y-%m-%d}"
