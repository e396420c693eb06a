"""What was given to the race director, and when; rows are never changed."""

from typing import ClassVar

from django.db import models

from inspection.models.race_nights import RaceNight
from inspection.models.rulebooks import PERSON


class NightReport(models.Model):
    """
    The report as it was given out; each ruling after it is a numbered amendment.

    ``standings``: by the entry's number in the database, how the car stood.
    """

    night = models.OneToOneField(RaceNight, models.PROTECT, related_name="report")
    standings = models.JSONField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["at"]

    def __str__(self) -> str:
        return f"{self.night}: report"
