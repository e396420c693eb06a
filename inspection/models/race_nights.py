"""Race nights, the editions they race by, blocks and entries."""

from typing import ClassVar, Self

from django.db import models
from django.db.models import Q

from inspection.compute.entries import EntryState
from inspection.models.cars import Car
from inspection.models.rulebooks import PERSON, Edition, RaceClass
from inventory.models.words import choices_of, one_of


class RaceNightQuerySet(models.QuerySet["RaceNight"]):
    def under_way(self) -> Self:
        return self.exclude(opened_at=None).filter(closed_at=None)


class RaceNight(models.Model):
    """One evening; entries are taken while it is open."""

    name = models.CharField(max_length=80)
    date = models.DateField()
    place = models.CharField(max_length=80, blank=True)
    opened_at = models.DateTimeField(null=True, blank=True)
    opened_by = models.ForeignKey(
        PERSON, models.PROTECT, related_name="+", null=True, blank=True
    )
    closed_at = models.DateTimeField(null=True, blank=True)

    objects = RaceNightQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["-date", "-id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["date", "name"], name="one_night_a_name"),
            models.CheckConstraint(
                condition=Q(closed_at=None) | ~Q(opened_at=None),
                name="closed_after_opened",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class NightClass(models.Model):
    """The edition that a class races by tonight."""

    night = models.ForeignKey(RaceNight, models.CASCADE, related_name="classes")
    race_class = models.ForeignKey(RaceClass, models.PROTECT, related_name="+")
    edition = models.ForeignKey(Edition, models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["night", "race_class"], name="one_edition_a_class_tonight"
            )
        ]

    def __str__(self) -> str:
        return f"{self.race_class}: {self.edition}"


class Block(models.Model):
    """A flat plate with a name, where cars are measured."""

    name = models.CharField(max_length=30, unique=True)

    def __str__(self) -> str:
        return self.name


class Entry(models.Model):
    """A car that races tonight, with its driver and where it stands."""

    night = models.ForeignKey(RaceNight, models.PROTECT, related_name="entries")
    car = models.ForeignKey(Car, models.PROTECT, related_name="entries")
    race_class = models.ForeignKey(RaceClass, models.PROTECT, related_name="+")
    driver = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    state = models.CharField(
        max_length=10, choices=choices_of(EntryState), default=EntryState.WAITING
    )
    state_since = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["state_since", "id"]
        verbose_name_plural = "entries"
        constraints: ClassVar = [
            one_of("state", EntryState, name="entry_state_is_known"),
            models.UniqueConstraint(
                fields=["night", "car", "race_class"], name="one_entry_a_class"
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["night", "state"], name="entry_by_state"),
        ]

    def __str__(self) -> str:
        return f"{self.car} in {self.race_class}"


class EntryMove(models.Model):
    """One change of an entry's state; rows are never changed."""

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="moves")
    from_state = models.CharField(
        max_length=10, choices=choices_of(EntryState), blank=True
    )
    to_state = models.CharField(max_length=10, choices=choices_of(EntryState))
    at = models.DateTimeField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar = ["at", "id"]
        constraints: ClassVar = [
            one_of("from_state", EntryState, name="move_from_is_known", blank=True),
            one_of("to_state", EntryState, name="move_to_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.entry}: {self.to_state}"
