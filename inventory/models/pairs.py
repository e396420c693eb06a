"""Pairs and sets: parts that belong together, one bag and one label each."""

from typing import ClassVar, Self

from django.db import models
from django.db.models import Q

from inventory.compute.batches import SetEnd
from inventory.compute.stock import PartKind, PartState
from inventory.models.batches import Batch
from inventory.models.parts import Part
from inventory.models.people import Person
from inventory.models.words import one_of, word_field


class Pairing(models.Model):
    """
    Pairs that were confirmed together, with the settings they were found by.

    Without a batch they are of loose tyres, from whichever batch they came.
    """

    batch = models.ForeignKey(
        Batch, models.PROTECT, related_name="pairings", null=True, blank=True
    )
    made_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    settings = models.JSONField(default=dict)
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-made_at", "-id"]

    def __str__(self) -> str:
        return f"pairing {self.pk}"


class PartSetQuerySet(models.QuerySet["PartSet"]):
    def together(self) -> Self:
        return self.filter(ended_at=None)

    def free(self) -> Self:
        """Keep the sets of which every part lies in stock."""
        away = SetMember.objects.exclude(part__state=PartState.IN_STOCK)
        return self.together().exclude(pk__in=away.values("part_set"))


class PartSet(models.Model):
    """
    A pair of tyres, or a set of four, or of hand-out motors.

    ``spread`` is the largest less the smallest when they were put together, in
    millionths of the unit of the size that they are known by.
    """

    tag = models.CharField(max_length=12, unique=True)
    kind = word_field(PartKind, max_length=10)
    pairing = models.ForeignKey(Pairing, models.PROTECT, related_name="sets")
    spread = models.BigIntegerField()
    drawer = models.CharField(max_length=40, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = word_field(SetEnd, max_length=10, blank=True, default="")

    objects = PartSetQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["tag"]
        constraints: ClassVar = [
            one_of("kind", PartKind, name="set_kind_is_known"),
            one_of("ended_by", SetEnd, name="set_end_is_known", blank=True),
            models.CheckConstraint(
                condition=Q(ended_at=None, ended_by="")
                | (~Q(ended_at=None) & ~Q(ended_by="")),
                name="set_end_has_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return self.tag


class SetMember(models.Model):
    """One part of a set, the smallest first; ``ended_at`` goes with the set's."""

    part_set = models.ForeignKey(PartSet, models.CASCADE, related_name="members")
    part = models.ForeignKey(Part, models.PROTECT, related_name="memberships")
    position = models.PositiveSmallIntegerField()
    ended_at = models.DateTimeField(null=True, blank=True)
    #: Where the part lay before it was put away with the set.
    drawer_before = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering: ClassVar = ["part_set", "position"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["part"],
                condition=Q(ended_at=None),
                name="part_in_one_set",
                violation_error_code="part_in_one_set",
            ),
            models.UniqueConstraint(
                fields=["part_set", "position"], name="one_part_a_place"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part_set}: {self.part}"
