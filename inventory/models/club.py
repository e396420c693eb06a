"""The club whose desk this is: one row."""

from typing import ClassVar

from django.db import models
from django.db.models import Q


class Club(models.Model):
    """What a sheet names as its issuer."""

    name = models.CharField(max_length=80)
    place = models.CharField(max_length=80, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=Q(id=1), name="there_is_one_club"),
            models.CheckConstraint(condition=~Q(name=""), name="club_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name
