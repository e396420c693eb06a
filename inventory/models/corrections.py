"""What was put right afterwards: facts of parts, readings that do not count."""

from typing import ClassVar

from django.db import models

from inventory.models.parts import Part
from inventory.models.people import Person
from inventory.models.readings import PartReading


class FactChange(models.Model):
    """One fact of a part as it was and as it is since; rows are never changed."""

    part = models.ForeignKey(Part, models.PROTECT, related_name="changes")
    fact = models.CharField(max_length=30)
    before = models.CharField(max_length=80, blank=True)
    after = models.CharField(max_length=80, blank=True)
    #: Nothing where it was only moved to another drawer.
    reason = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["-id"]

    def __str__(self) -> str:
        return f"{self.part}: {self.fact}"


class ReadingStrike(models.Model):
    """Why a reading no longer counts; the reading stays, and so does this row."""

    reading = models.OneToOneField(PartReading, models.PROTECT, related_name="strike")
    reason = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"{self.reading}: {self.reason}"
