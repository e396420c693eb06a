"""What scrutineers note of a car beside its readings: words, pictures, motor seals."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from inspection.models.cars import Car
from inspection.models.rulebooks import PERSON
from inspection.models.sheets import Sheet


class SheetNote(models.Model):
    """What a scrutineer noted on a sheet while it was open; rows are never changed."""

    sheet = models.ForeignKey(Sheet, models.PROTECT, related_name="notes")
    text = models.CharField(max_length=500)
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=~Q(text=""), name="note_says_something")
        ]

    def __str__(self) -> str:
        return self.text


class NotePicture(models.Model):
    """
    The picture of a note, a JPEG as this program wrote it; rows are never changed.

    It stands in the database, so that one backup holds all.
    """

    note = models.OneToOneField(SheetNote, models.PROTECT, related_name="picture")
    jpeg = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    width = models.PositiveSmallIntegerField()
    height = models.PositiveSmallIntegerField()

    def __str__(self) -> str:
        return f"Picture, {self.width} × {self.height}"


class MotorSeal(models.Model):
    """
    A seal with a number, put on a motor; rows are never changed.

    ``motor`` is known where the motor is the club's stock; else the seal is known by
    the car alone.  ``car`` is the one that the motor sat in.
    """

    number = models.CharField(max_length=20)
    car = models.ForeignKey(Car, models.PROTECT, related_name="motor_seals")
    motor = models.ForeignKey(
        "inventory.Part", models.PROTECT, related_name="+", null=True, blank=True
    )
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-at", "-id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(number=""), name="motor_seal_has_a_number"
            ),
            models.UniqueConstraint(Lower("number"), name="one_motor_seal_a_number"),
        ]

    def __str__(self) -> str:
        return f"Motor seal {self.number}"

    @property
    def is_broken(self) -> bool:
        return hasattr(self, "broken")


class BrokenSeal(models.Model):
    """A motor seal that was broken, when and why; rows are never changed."""

    motor_seal = models.OneToOneField(MotorSeal, models.PROTECT, related_name="broken")
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=200)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(reason=""), name="broken_seal_has_a_reason"
            )
        ]

    def __str__(self) -> str:
        return f"{self.motor_seal}: broken"
