"""Draws of the hand-out motors: what was drawn, and all that a check needs."""

from typing import ClassVar

from django.db import models

from inventory.models.parts import Part
from inventory.models.people import Person


class Draw(models.Model):
    """
    One draw; rows are never changed.

    ``spare`` are the tags left in the pool, in the order in which they would have
    been drawn next.
    """

    name = models.CharField(max_length=60)
    seed = models.CharField(max_length=60)
    drawn_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    spare = models.JSONField(default=list)

    class Meta:
        ordering: ClassVar = ["-drawn_at", "-id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~models.Q(seed=""), name="draw_has_a_seed"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class DrawLot(models.Model):
    """One driver's motor; rows are never changed."""

    draw = models.ForeignKey(Draw, models.PROTECT, related_name="lots")
    position = models.PositiveSmallIntegerField()
    driver = models.CharField(max_length=80)
    person = models.ForeignKey(
        Person, models.PROTECT, related_name="+", null=True, blank=True
    )
    motor = models.ForeignKey(Part, models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["draw", "position"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["draw", "position"], name="one_lot_a_place"
            ),
            models.UniqueConstraint(fields=["draw", "motor"], name="motor_drawn_once"),
        ]

    def __str__(self) -> str:
        return f"{self.driver}: {self.motor}"
