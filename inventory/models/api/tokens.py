"""Tokens of the API, answers that are given again, and the feed's numbers."""

import datetime as dt
from typing import ClassVar, Self

from django.db import models

from inventory.compute.tokens import Scope
from inventory.models.audit import AuditRow
from inventory.models.people import Person
from inventory.models.words import one_of, word_field


class ApiTokenQuerySet(models.QuerySet["ApiToken"]):
    def in_use(self, now: dt.datetime) -> Self:
        return self.filter(ended_at=None, ends_at__gt=now)


class ApiToken(models.Model):
    """One token of a person; of what it is the hash alone is kept."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="tokens")
    name = models.CharField(max_length=60)
    scope = word_field(Scope, max_length=10)
    code_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    objects = ApiTokenQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-made_at", "-id"]
        constraints: ClassVar = [one_of("scope", Scope, name="token_scope_is_known")]

    def __str__(self) -> str:
        return self.name


class KeptAnswer(models.Model):
    """What was answered to a request with a key of its own; given again for a day."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="+")
    key = models.CharField(max_length=80)
    request_sha256 = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField()
    body = models.TextField()
    made_at = models.DateTimeField(db_index=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["person", "key"], name="one_answer_a_key")
        ]

    def __str__(self) -> str:
        return self.key


class ChangeNumber(models.Model):
    """The place of an audit row in the feed of changes, given when it is first seen."""

    number = models.BigAutoField(primary_key=True)
    row = models.OneToOneField(AuditRow, models.PROTECT, related_name="+")
    at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return str(self.number)
