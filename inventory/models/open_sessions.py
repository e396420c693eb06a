"""Who is signed in where: the sessions, each with its person and device."""

from typing import ClassVar

from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models

from inventory.models.people import Person


class OpenSession(AbstractBaseSession):
    """
    One browser's session; a stranger's has no person.

    ``mark`` names it on pages: its key would let anyone in who reads it.
    """

    person = models.ForeignKey(
        Person, models.CASCADE, related_name="sessions", null=True, blank=True
    )
    mark = models.CharField(max_length=12, blank=True, db_index=True)
    device = models.CharField(max_length=60, blank=True)
    address = models.CharField(max_length=45, blank=True)
    began_at = models.DateTimeField(null=True, blank=True)

    class Meta(AbstractBaseSession.Meta):
        abstract = False
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(person__isnull=True) | ~models.Q(mark=""),
                name="session_of_a_person_has_a_mark",
            )
        ]
