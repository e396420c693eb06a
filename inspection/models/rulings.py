"""Rulings: sealed sheets that came into question, and what the chief said of them."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from inspection.compute.night import Decision, Ruling
from inspection.models.race_nights import RaceNight
from inspection.models.rulebooks import PERSON, Edition, RaceClass
from inspection.models.sheets import Sheet
from inventory.models.words import one_of, word_field


class EditionMove(models.Model):
    """A class that raced by another edition from now on, and why."""

    night = models.ForeignKey(RaceNight, models.PROTECT, related_name="edition_moves")
    race_class = models.ForeignKey(RaceClass, models.PROTECT, related_name="+")
    before = models.ForeignKey(Edition, models.PROTECT, related_name="+")
    after = models.ForeignKey(Edition, models.PROTECT, related_name="+")
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=200)

    class Meta:
        ordering: ClassVar = ["at", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~Q(reason=""), name="edition_move_has_a_reason"
            )
        ]

    def __str__(self) -> str:
        return f"{self.race_class}: {self.after}"


class JudgedAgain(models.Model):
    """A sealed sheet whose decision would be another by the edition moved to."""

    move = models.ForeignKey(EditionMove, models.PROTECT, related_name="judged")
    sheet = models.ForeignKey(Sheet, models.PROTECT, related_name="judged_again")
    decision = word_field(Decision, max_length=10)
    rules = models.CharField(max_length=200, blank=True)

    class Meta:
        verbose_name_plural = "judged again"
        constraints: ClassVar = [
            one_of("decision", Decision, name="judged_again_decision_is_known"),
            models.UniqueConstraint(
                fields=["move", "sheet"], name="judged_again_once_a_move"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sheet}: would be {self.decision}"


class SheetRuling(models.Model):
    """
    What the chief ruled of a sealed sheet in question; rows are never changed.

    The question is a gauge's failed check, or an edition that would decide otherwise.
    """

    sheet = models.ForeignKey(Sheet, models.PROTECT, related_name="rulings")
    gauge_check = models.ForeignKey(
        "inventory.GaugeCheck", models.PROTECT, related_name="+", null=True, blank=True
    )
    judged_again = models.OneToOneField(
        JudgedAgain, models.PROTECT, related_name="ruling", null=True, blank=True
    )
    ruling = word_field(Ruling, max_length=14)
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=200)

    class Meta:
        ordering: ClassVar = ["at", "id"]
        constraints: ClassVar = [
            one_of("ruling", Ruling, name="ruling_is_known"),
            models.CheckConstraint(condition=~Q(reason=""), name="ruling_has_a_reason"),
            models.CheckConstraint(
                condition=Q(gauge_check=None, judged_again__isnull=False)
                | Q(gauge_check__isnull=False, judged_again=None),
                name="ruling_answers_one_question",
            ),
            models.UniqueConstraint(
                fields=["sheet", "gauge_check"], name="one_ruling_a_failed_check"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sheet}: {self.ruling}"

    @property
    def is_by_sealer(self) -> bool:
        """Whether who ruled had sealed the sheet as well, for want of another."""
        return self.by_id == self.sheet.seal.sealed_by_id
