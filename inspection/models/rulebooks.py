"""Rulebooks, their editions and rules; a published edition is never changed."""

from decimal import Decimal
from typing import ClassVar, Self

from django.db import models
from django.db.models import F, Q

from inspection.compute.judging import DecisionRule
from inspection.compute.rulebooks import Answer, Evidence, Force, Stage
from inventory.models.words import one_of, word_field

PERSON = "inventory.Person"


class Rulebook(models.Model):
    """What a club or a body calls its rules; its text is in the editions."""

    name = models.CharField(max_length=80, unique=True)

    def __str__(self) -> str:
        return self.name


class RaceClass(models.Model):
    """A class of cars; it has one rulebook."""

    name = models.CharField(max_length=60, unique=True)
    rulebook = models.ForeignKey(Rulebook, models.PROTECT, related_name="classes")

    class Meta:
        ordering: ClassVar = ["name"]
        verbose_name_plural = "race classes"

    def __str__(self) -> str:
        return self.name


class EditionQuerySet(models.QuerySet["Edition"]):
    def published(self) -> Self:
        return self.exclude(published_at=None)

    def drafts(self) -> Self:
        return self.filter(published_at=None)


class Edition(models.Model):
    """One edition of a rulebook: a draft until published, frozen afterwards."""

    rulebook = models.ForeignKey(Rulebook, models.PROTECT, related_name="editions")
    number = models.PositiveSmallIntegerField()
    decision_rule = word_field(DecisionRule, max_length=20)
    confidence = models.DecimalField(
        max_digits=5, decimal_places=4, default=Decimal("0.95")
    )
    note = models.TextField(blank=True)
    sha256 = models.CharField(max_length=64, blank=True, editable=False)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(
        PERSON, models.PROTECT, related_name="+", null=True, blank=True
    )

    objects = EditionQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["rulebook", "-number"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["rulebook", "number"], name="one_edition_a_number"
            ),
            one_of("decision_rule", DecisionRule, name="decision_rule_is_known"),
            models.CheckConstraint(
                condition=Q(confidence__gt=Decimal("0.5"), confidence__lt=1),
                name="confidence_is_above_one_half",
            ),
            models.CheckConstraint(
                condition=Q(published_at=None, published_by=None, sha256="")
                | (~Q(published_at=None) & ~Q(published_by=None) & ~Q(sha256="")),
                name="published_has_person_and_checksum",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.rulebook}, edition {self.number}"

    @property
    def is_published(self) -> bool:
        return self.published_at is not None


class Rule(models.Model):
    """
    One rule: a quantity and its limits, in millionths of the quantity's unit.

    A looked-at rule has ``required`` instead of limits.  ``condition_key`` and
    ``condition_word`` restrict a rule to cars whose declared word is that one.
    """

    edition = models.ForeignKey(Edition, models.PROTECT, related_name="rules")
    number = models.CharField(max_length=12)
    position = models.PositiveSmallIntegerField()
    sentence = models.CharField(max_length=300)
    quantity = models.CharField(max_length=40)
    lower = models.BigIntegerField(null=True, blank=True)
    upper = models.BigIntegerField(null=True, blank=True)
    lower_after = models.BigIntegerField(null=True, blank=True)
    upper_after = models.BigIntegerField(null=True, blank=True)
    required = word_field(Answer, max_length=3, blank=True)
    force = word_field(Force, max_length=10, default=Force.MANDATORY)
    stage = word_field(Stage, max_length=10, default=Stage.BOTH)
    evidence = word_field(Evidence, max_length=12, default=Evidence.EITHER)
    condition_key = models.CharField(max_length=40, blank=True)
    condition_word = models.CharField(max_length=40, blank=True)
    classes = models.ManyToManyField(RaceClass, through="RuleClass", related_name="+")

    class Meta:
        ordering: ClassVar = ["edition", "position"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["edition", "number"], name="one_rule_a_number"
            ),
            models.UniqueConstraint(
                fields=["edition", "position"], name="one_rule_a_position"
            ),
            one_of("force", Force, name="force_is_known"),
            one_of("stage", Stage, name="stage_is_known"),
            one_of("evidence", Evidence, name="evidence_is_known"),
            one_of("required", Answer, name="required_is_known", blank=True),
            models.CheckConstraint(
                condition=(
                    Q(required="") & (~Q(lower=None) | ~Q(upper=None))
                    | ~Q(required="") & Q(lower=None) & Q(upper=None)
                ),
                name="rule_has_a_limit_or_an_answer",
            ),
            models.CheckConstraint(
                condition=Q(lower=None) | Q(upper=None) | Q(lower__lte=F("upper")),
                name="lower_is_not_above_upper",
            ),
            models.CheckConstraint(
                condition=Q(condition_key="", condition_word="")
                | (~Q(condition_key="") & ~Q(condition_word="")),
                name="condition_is_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.sentence}"


class RuleClass(models.Model):
    """A rule that speaks of a class; a rule without any speaks of all."""

    rule = models.ForeignKey(Rule, models.CASCADE, related_name="rule_classes")
    race_class = models.ForeignKey(RaceClass, models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["rule", "race_class"], name="one_class_a_rule"
            )
        ]

    def __str__(self) -> str:
        return f"{self.rule.number}: {self.race_class}"
