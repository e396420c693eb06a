"""Notices of the chief: hung up, and taken down again."""

from typing import ClassVar, Self

from django.db import models
from django.db.models import Q

from inspection.compute.night import NoticeKind
from inspection.models.rulebooks import PERSON
from inventory.models.words import one_of, word_field


class NoticeQuerySet(models.QuerySet["Notice"]):
    def hanging(self) -> Self:
        return self.filter(taken_down_at=None)


class Notice(models.Model):
    """Some words on the wall; one that was taken down is kept."""

    kind = word_field(NoticeKind, max_length=20, default=NoticeKind.NOTICE)
    text = models.CharField(max_length=400)
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    taken_down_at = models.DateTimeField(null=True, blank=True)

    objects = NoticeQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-at", "-id"]
        constraints: ClassVar = [
            one_of("kind", NoticeKind, name="notice_kind_is_known"),
            models.CheckConstraint(condition=~Q(text=""), name="notice_says_something"),
        ]

    def __str__(self) -> str:
        return self.text[:40]
