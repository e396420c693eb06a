"""What was done, by whom, when; rows are never changed (a trigger sees to it)."""

from typing import ClassVar

from django.db import models

from inventory.models.people import Person


class AuditRow(models.Model):
    at = models.DateTimeField(db_index=True)
    actor = models.ForeignKey(
        Person, models.PROTECT, related_name="+", null=True, blank=True
    )
    event = models.CharField(max_length=60, db_index=True)
    subject = models.CharField(max_length=120, db_index=True)
    detail = models.JSONField(default=dict)
    #: Of what the row says; nothing on rows from before they were hashed.
    sha256 = models.BinaryField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.event} {self.subject}"
