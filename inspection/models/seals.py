"""Seals: what was decided, on what evidence, chained so that no change hides."""

from typing import ClassVar

from django.db import models

from inspection.compute.entries import Decision
from inspection.models.race_nights import RaceNight
from inspection.models.rulebooks import PERSON
from inspection.models.sheets import Sheet
from inventory.models.words import choices_of, one_of


class Seal(models.Model):
    """
    The signature under a sheet; rows are never changed.

    ``content`` is the sheet as canonical JSON (RFC 8785); ``sha256`` is the
    hash of the previous seal's hash and of the content, per night.
    """

    sheet = models.OneToOneField(Sheet, models.PROTECT, related_name="seal")
    night = models.ForeignKey(RaceNight, models.PROTECT, related_name="seals")
    sequence = models.PositiveIntegerField()
    decision = models.CharField(max_length=10, choices=choices_of(Decision))
    content = models.TextField()
    previous_sha256 = models.CharField(max_length=64, blank=True)
    sha256 = models.CharField(max_length=64, unique=True)
    sealed_at = models.DateTimeField()
    sealed_by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    is_own_car = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar = ["night", "sequence"]
        constraints: ClassVar = [
            one_of("decision", Decision, name="decision_is_known"),
            models.UniqueConstraint(
                fields=["night", "sequence"], name="one_seal_a_place_in_the_chain"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sheet}: {self.decision}"


class SealInputs(models.Model):
    """
    What a sealed sheet's rules were given, packed; rows are never changed.

    A copy of the values in the seal's content, from which ten thousand sheets are
    read at once.  ``columns`` are names with a blank between them; ``numbers`` are
    five little-endian 64-bit whole numbers a column: value, random and systematic
    uncertainty in millionths, the number of the gauge on this sheet or -1, and 1
    or -1 where the value is only known to be at least or at most so much.
    """

    seal = models.OneToOneField(Seal, models.PROTECT, related_name="inputs")
    columns = models.TextField()
    numbers = models.BinaryField()

    class Meta:
        verbose_name_plural = "seal inputs"

    def __str__(self) -> str:
        return f"Inputs of {self.seal}"
