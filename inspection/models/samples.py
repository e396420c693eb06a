"""After the race: cars that are held, and the sample that is drawn of them."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from inspection.models.race_nights import Entry, RaceNight
from inspection.models.rulebooks import PERSON


class Sample(models.Model):
    """
    How many cars are drawn after the race, by a seed whose hash is shown before.

    The seed is shown when a SampleDraw says that it was drawn.  A night has one that
    was not taken back.
    """

    night = models.ForeignKey(RaceNight, models.PROTECT, related_name="samples")
    seed = models.CharField(max_length=64)
    seed_sha256 = models.CharField(max_length=64)
    count = models.PositiveSmallIntegerField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.night}: {self.count} cars"


class SampleDraw(models.Model):
    """When the sample was drawn, and among which cars, in the order drawn."""

    sample = models.OneToOneField(Sample, models.PROTECT, related_name="draw")
    among = models.JSONField()
    drawn = models.JSONField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.sample}: drawn"


class SampleVoid(models.Model):
    """A sample that was taken back, and why; what was drawn of it stays to be read."""

    sample = models.OneToOneField(Sample, models.PROTECT, related_name="void")
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=200)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(reason=""), name="sample_void_has_a_reason"
            )
        ]

    def __str__(self) -> str:
        return f"{self.sample}: taken back"


class HeldCar(models.Model):
    """A car held after the race, and why."""

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="held")
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=200)

    class Meta:
        ordering: ClassVar = ["at", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=~Q(reason=""), name="held_for_a_reason")
        ]

    def __str__(self) -> str:
        return f"{self.entry}: held"


class ReleasedCar(models.Model):
    """When a held car was let go."""

    held = models.OneToOneField(HeldCar, models.PROTECT, related_name="release")
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.held}: released"
