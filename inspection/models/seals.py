"""Seals: what was decided, on what evidence, chained so that no change hides."""

import json
import zlib
from typing import ClassVar, Self

from django.db import models

from inspection.compute.night import Decision, Occasion
from inspection.models.race_nights import RaceNight
from inspection.models.rulebooks import PERSON
from inspection.models.sheets import Sheet
from inventory.models.words import one_of, word_field


class Seal(models.Model):
    """
    The signature under a sheet; rows are never changed.

    Its content, the sheet as canonical JSON (RFC 8785), is a row of its own:
    lists and pages that only ask when and how a sheet was sealed do not read it.
    ``sha256`` is the hash of the previous seal's hash and of the content, per night.
    """

    sheet = models.OneToOneField(Sheet, models.PROTECT, related_name="seal")
    night = models.ForeignKey(
        RaceNight, models.PROTECT, related_name="seals", db_index=False
    )
    sequence = models.PositiveIntegerField()
    decision = word_field(Decision, max_length=10)
    previous_sha256 = models.CharField(max_length=64, blank=True)
    sha256 = models.CharField(max_length=64, unique=True)
    sealed_at = models.DateTimeField()
    sealed_by = models.ForeignKey(
        PERSON, models.PROTECT, related_name="+", db_index=False
    )
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

    @property
    def content(self) -> str:
        """What is signed; a query, unless ``signed`` was selected with the seal."""
        return self.signed.text


def pack_content(text: str) -> bytes:
    """Compress what a seal signs."""
    return zlib.compress(text.encode(), zlib.Z_BEST_COMPRESSION)


class SealContent(models.Model):
    """
    What a seal signs, compressed (zlib, RFC 1950); rows are never changed.

    The seal's hash is over the text as it was before.
    """

    seal = models.OneToOneField(Seal, models.PROTECT, related_name="signed")
    packed = models.BinaryField()

    class Meta:
        verbose_name_plural = "seal contents"

    def __str__(self) -> str:
        return f"Content of {self.seal}"

    @classmethod
    def of(cls, seal: Seal, text: str) -> Self:
        """Make the row that holds a seal's text, not written yet."""
        return cls(seal=seal, packed=pack_content(text))

    @property
    def text(self) -> str:
        return zlib.decompress(bytes(self.packed)).decode()


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


class AuditLink(models.Model):
    """
    The audit rows since the link before, in one hash; rows are never changed.

    One chain for the whole club, apart from the nights' own.  ``content`` is
    canonical JSON: from which row to which, how many, the hash over theirs, and
    at the closing of a night the head and the count of its seals.
    """

    sequence = models.PositiveIntegerField(unique=True)
    content = models.TextField()
    previous_sha256 = models.CharField(max_length=64, blank=True)
    sha256 = models.CharField(max_length=64, unique=True)
    at = models.DateTimeField()
    night = models.ForeignKey(
        RaceNight, models.PROTECT, related_name="audit_links", null=True, blank=True
    )

    class Meta:
        ordering: ClassVar = ["sequence"]

    def __str__(self) -> str:
        return f"Audit link {self.sequence}"

    @property
    def up_to(self) -> int:
        """The last audit row that it holds."""
        return int(json.loads(self.content)["rows"]["up_to"])


class SealCheck(models.Model):
    """
    One run of the check of the seals and what it found; rows are never changed.

    ``night`` is the one that was checked; nothing when all were.  ``differences``
    are the first of them, as sentences.
    """

    at = models.DateTimeField(db_index=True)
    occasion = word_field(Occasion, max_length=20)
    night = models.ForeignKey(
        RaceNight, models.PROTECT, related_name="seal_checks", null=True, blank=True
    )
    seal_count = models.PositiveIntegerField()
    difference_count = models.PositiveIntegerField()
    differences = models.JSONField(default=list)

    class Meta:
        ordering: ClassVar = ["-at", "-id"]
        constraints: ClassVar = [
            one_of("occasion", Occasion, name="check_occasion_is_known")
        ]

    def __str__(self) -> str:
        return f"Check of the seals, {self.occasion}"

    @property
    def holds(self) -> bool:
        return self.difference_count == 0
