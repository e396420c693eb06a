"""Race nights, the editions they race by, blocks and entries."""

import datetime as dt
from typing import ClassVar, Self

from django.db import models
from django.db.models import Case, F, Max, Q, Value, When
from django.db.models.functions import Coalesce, Greatest
from django.utils.functional import cached_property

from inspection.compute.night import EntryState
from inspection.models.cars import Car
from inspection.models.rulebooks import PERSON, Edition, RaceClass
from inventory.models import FamilyTie
from inventory.models.words import one_of, word_field


class RaceNightQuerySet(models.QuerySet["RaceNight"]):
    def under_way(self) -> Self:
        return self.exclude(opened_at=None).filter(closed_at=None)


class RaceNight(models.Model):
    """
    One evening; entries are taken until it is closed.

    ``list_closes_at``: until when members enter their own cars, empty for as long as
    entries are taken at all.  ``called_first``: the class whose cars go on the block
    before those of the others.
    """

    name = models.CharField(max_length=80)
    date = models.DateField()
    place = models.CharField(max_length=80, blank=True)
    opened_at = models.DateTimeField(null=True, blank=True)
    opened_by = models.ForeignKey(
        PERSON, models.PROTECT, related_name="+", null=True, blank=True
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    list_closes_at = models.DateTimeField(null=True, blank=True)
    called_first = models.ForeignKey(
        RaceClass, models.PROTECT, related_name="+", null=True, blank=True
    )

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

    def is_late_at(self, at: dt.datetime) -> bool:
        """Tell whether the list for members is closed."""
        return self.list_closes_at is not None and at >= self.list_closes_at


class NightSums(models.Model):
    """
    What a closed night adds to a season: counts and sums of its sheets.

    Worked out of rows that are never changed, kept so that they need not be read
    again; the loader of night sums says what ``figures`` holds.
    """

    night = models.OneToOneField(RaceNight, models.CASCADE, related_name="sums")
    figures = models.JSONField()

    class Meta:
        verbose_name_plural = "night sums"

    def __str__(self) -> str:
        return f"{self.night}: sums"


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
    """
    A flat plate with a name, where cars are measured.

    One that sheets name keeps its name for ever: under another name it is another
    row, and the one before is out of use.
    """

    name = models.CharField(max_length=30, unique=True)
    is_in_use = models.BooleanField(default=True)
    measured_by = models.ForeignKey(
        PERSON, models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["measured_by"], name="one_block_a_scrutineer"
            )
        ]

    def __str__(self) -> str:
        return self.name


class EntryQuerySet(models.QuerySet["Entry"]):
    def in_turn(self) -> Self:
        """
        Order them as they are called: the class that is called first, then time.

        A car that was called and was not there waits from its last call on.
        """
        since = F("state_since")
        called = Coalesce(Max("calls__at"), since)
        return self.annotate(
            turn=Case(
                When(race_class=F("night__called_first"), then=Value(0)),
                default=Value(1),
            ),
            waits_from=Greatest(since, called),
        ).order_by("turn", "waits_from", "id")


class Entry(models.Model):
    """A car that races tonight: its number, its driver and where it stands."""

    night = models.ForeignKey(RaceNight, models.PROTECT, related_name="entries")
    car = models.ForeignKey(Car, models.PROTECT, related_name="entries")
    race_class = models.ForeignKey(RaceClass, models.PROTECT, related_name="+")
    driver = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    number = models.CharField(max_length=8)
    state = word_field(EntryState, max_length=10, default=EntryState.WAITING)
    state_since = models.DateTimeField()
    is_late = models.BooleanField(default=False)

    objects = EntryQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["state_since", "id"]
        verbose_name_plural = "entries"
        constraints: ClassVar = [
            one_of("state", EntryState, name="entry_state_is_known"),
            models.UniqueConstraint(
                fields=["night", "car", "race_class"], name="one_entry_a_class"
            ),
            models.UniqueConstraint(
                fields=["night", "race_class", "number"], name="one_car_a_number"
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["night", "state"], name="entry_by_state"),
        ]

    def __str__(self) -> str:
        return f"{self.called} in {self.race_class}"

    @property
    def called(self) -> str:
        """The car as it is called tonight."""
        return f"{self.number} {self.car.name}"

    @cached_property
    def concerned(self) -> frozenset[int]:
        """Whoever owns or drives the car, and their family; a query, kept."""
        people = {self.car.owner_id, self.driver_id}
        return FamilyTie.objects.with_family(people)


class EntryMove(models.Model):
    """One change of an entry's state; rows are never changed."""

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="moves")
    from_state = word_field(EntryState, max_length=10, blank=True)
    to_state = word_field(EntryState, max_length=10)
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


class EntryCall(models.Model):
    """A waiting car was called to the block and was not there; rows never change."""

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="calls")
    at = models.DateTimeField()
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.entry}: called, not there"
