"""Protests: raised, heard, measured again and ruled; rows are never changed."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from inspection.compute.night import ProtestRuling
from inspection.models.race_nights import Entry
from inspection.models.rulebooks import PERSON, RaceClass, Rule
from inspection.models.sheets import Sheet
from inventory.models.words import one_of, word_field


class ProtestTime(models.Model):
    """How long after a ruling a class may protest."""

    race_class = models.OneToOneField(
        RaceClass, models.CASCADE, related_name="protest_time"
    )
    minutes = models.PositiveSmallIntegerField()

    def __str__(self) -> str:
        return f"{self.race_class}: {self.minutes} min"


class Protest(models.Model):
    """
    Somebody says that a car, or the ruling on it, is against a rule.

    ``sheet`` is the sealed sheet that it is against, none where the car has none;
    an appeal is a second one, against the ruling on the first.
    """

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="protests")
    sheet = models.ForeignKey(
        Sheet, models.PROTECT, related_name="protests", null=True, blank=True
    )
    rule = models.ForeignKey(Rule, models.PROTECT, related_name="+")
    claim = models.CharField(max_length=300)
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    appeal_of = models.OneToOneField(
        "self", models.PROTECT, related_name="appeal", null=True, blank=True
    )

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=~Q(claim=""), name="protest_has_a_claim")
        ]

    def __str__(self) -> str:
        return f"Protest {self.pk} against {self.entry.number}"


class ProtestHearer(models.Model):
    """Somebody named to hear a protest in place of a chief who is concerned."""

    protest = models.ForeignKey(Protest, models.PROTECT, related_name="hearers")
    person = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    named_by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"{self.protest}: {self.person} hears it"


class ProtestSheet(models.Model):
    """A sheet on which a car is measured again for a protest, by other hands."""

    protest = models.ForeignKey(Protest, models.PROTECT, related_name="measured")
    sheet = models.OneToOneField(Sheet, models.PROTECT, related_name="protest_sheet")

    def __str__(self) -> str:
        return f"{self.protest}: sheet {self.sheet}"


class ProtestRuled(models.Model):
    """What became of a protest, and why."""

    protest = models.OneToOneField(Protest, models.PROTECT, related_name="ruled")
    ruling = word_field(ProtestRuling, max_length=10)
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=300)

    class Meta:
        constraints: ClassVar = [
            one_of("ruling", ProtestRuling, name="protest_ruling_is_known"),
            models.CheckConstraint(
                condition=~Q(reason=""), name="protest_ruling_has_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.protest}: {self.ruling}"
