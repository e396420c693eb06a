"""Parts: each with the facts of its kind, and what happened to it."""

from typing import ClassVar, Self

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from inventory.compute.stock import Fixing, GearRole, Move, PartKind, PartState
from inventory.models.people import Person
from inventory.models.words import one_of, word_field


class PartQuerySet(models.QuerySet["Part"]):
    def in_stock(self) -> Self:
        return self.filter(state=PartState.IN_STOCK)

    def not_retired(self) -> Self:
        return self.exclude(state=PartState.RETIRED)

    def of_the_club(self) -> Self:
        return self.filter(owner=None)

    def listed_for(self, person: Person) -> Self:
        """Keep the club's, a person's own, and what others share."""
        return self.filter(Q(owner=None) | Q(owner=person) | Q(is_shared=True))


class Part(models.Model):
    """One part with a tag; its sizes are readings, its past is moves."""

    tag = models.CharField(max_length=12, unique=True)
    kind = word_field(PartKind, max_length=10)
    state = word_field(PartState, max_length=20, default=PartState.IN_STOCK)
    name = models.CharField(max_length=80, blank=True)
    owner = models.ForeignKey(
        Person, models.PROTECT, related_name="+", null=True, blank=True
    )
    #: An own part is its owner's alone to see, unless they share it.
    is_shared = models.BooleanField(default=False)
    holder = models.ForeignKey(
        Person, models.PROTECT, related_name="+", null=True, blank=True
    )
    drawer = models.CharField(max_length=40, blank=True, db_index=True)
    received_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    objects = PartQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["tag"]
        indexes: ClassVar = [
            models.Index(fields=["kind", "state"], name="part_by_kind_and_state"),
            models.Index(Lower("name"), name="part_by_name"),
            models.Index(Lower("drawer"), name="part_by_drawer"),
        ]
        constraints: ClassVar = [
            one_of("kind", PartKind, name="part_kind_is_known"),
            one_of("state", PartState, name="part_state_is_known"),
            models.CheckConstraint(
                condition=~Q(state=PartState.RESERVED) | ~Q(holder=None),
                name="reserved_for_somebody",
                violation_error_code="reserved_for_somebody",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=[PartState.IN_STOCK, PartState.ON_CAR])
                | Q(holder=None),
                name="in_stock_or_on_a_car_is_held_by_nobody",
                violation_error_code="in_stock_or_on_a_car_is_held_by_nobody",
            ),
            models.CheckConstraint(
                condition=Q(is_shared=False) | ~Q(owner=None),
                name="only_an_own_part_is_shared",
                violation_error_code="only_an_own_part_is_shared",
            ),
        ]

    def __str__(self) -> str:
        return self.tag


def facts_model(kind: PartKind) -> type[models.Model]:
    """Give the table of a kind's facts, which is called by the kind's word."""
    return Part._meta.get_field(kind.value).related_model  # type: ignore[return-value]


class Tyre(models.Model):
    """What distinguishes a tyre besides its sizes."""

    part = models.OneToOneField(Part, models.CASCADE, primary_key=True)
    compound = models.CharField(max_length=30, blank=True, db_index=True)
    width_code = models.CharField(max_length=20, blank=True)
    wheel = models.CharField(max_length=30, blank=True)

    def __str__(self) -> str:
        return f"{self.part}: {self.compound}"


class Gear(models.Model):
    """What distinguishes a spur, crown or pinion besides its sizes."""

    part = models.OneToOneField(Part, models.CASCADE, primary_key=True)
    role = word_field(GearRole, max_length=10)
    teeth = models.PositiveSmallIntegerField()
    pitch_name = models.CharField(max_length=20, blank=True)
    family = models.CharField(max_length=30, blank=True)
    fixing = word_field(Fixing, max_length=10, default=Fixing.SCREW)
    #: Teeth of the pinion that a crown is cut for, where it is said.
    cut_for_teeth = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(cut_for_teeth=None)
                | Q(role=GearRole.CROWN, cut_for_teeth__gte=4, cut_for_teeth__lte=60),
                name="crown_is_cut_for_a_pinion",
                violation_error_code="crown_is_cut_for_a_pinion",
            ),
            one_of("role", GearRole, name="gear_role_is_known"),
            one_of("fixing", Fixing, name="gear_fixing_is_known"),
            models.CheckConstraint(
                condition=Q(teeth__gte=4, teeth__lte=400), name="teeth_can_be_cut"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part}: {self.teeth} teeth"


class Motor(models.Model):
    """What distinguishes a motor besides its sizes."""

    part = models.OneToOneField(Part, models.CASCADE, primary_key=True)
    family = models.CharField(max_length=30, blank=True)

    def __str__(self) -> str:
        return f"{self.part}: {self.family}"


class Guide(models.Model):
    """What distinguishes a guide besides its sizes."""

    part = models.OneToOneField(Part, models.CASCADE, primary_key=True)
    family = models.CharField(max_length=30, blank=True)
    material = models.CharField(max_length=30, blank=True)

    def __str__(self) -> str:
        return f"{self.part}: {self.family}"


class PartMove(models.Model):
    """One move of a part; rows are never changed."""

    part = models.ForeignKey(Part, models.PROTECT, related_name="moves")
    move = word_field(Move, max_length=10)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    to_person = models.ForeignKey(
        Person, models.PROTECT, related_name="+", null=True, blank=True
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar = ["at", "id"]
        constraints: ClassVar = [one_of("move", Move, name="move_is_known")]

    def __str__(self) -> str:
        return f"{self.part}: {self.move}"
