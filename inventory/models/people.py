"""People of the club and what they may do."""

import secrets
from collections.abc import Iterable
from functools import reduce
from operator import or_
from typing import ClassVar, Self

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower, Replace
from django.utils.functional import cached_property

from inventory.compute.roles import ROLES_THAT_MAY, Ability, Role
from inventory.compute.sign_in_names import ALIKE
from inventory.models.words import one_of, word_field


def new_salt() -> str:
    """Return a salt for the hash by which a seal knows a person's name."""
    return secrets.token_hex(16)


def look_in_sql() -> models.Expression:
    """Say in SQL what a sign-in name looks like, as ``look_of`` does."""
    look: models.Expression = Lower("sign_in_name")
    for sign, other in ALIKE:
        look = Replace(look, models.Value(sign), models.Value(other))
    return look


class PersonManager(BaseUserManager["Person"]):
    def get_by_natural_key(self, username: str | None) -> "Person":
        return self.get(sign_in_name__iexact=username)

    def active(self) -> models.QuerySet["Person"]:
        return self.filter(is_active=True)


class Person(AbstractBaseUser):
    """Somebody of the club; ``name`` and ``name_salt`` are overwritten on erasure."""

    sign_in_name = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    name_salt = models.CharField(max_length=32, default=new_salt, editable=False)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField()
    erased_at = models.DateTimeField(null=True, blank=True)

    USERNAME_FIELD = "sign_in_name"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]
    objects = PersonManager()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(look_in_sql(), name="no_sign_in_name_looks_alike"),
        ]

    def __str__(self) -> str:
        return self.name

    @cached_property
    def roles(self) -> frozenset[Role]:
        """Roles held; one query, kept for the request."""
        return frozenset(
            Role(word) for word in self.grants.values_list("role", flat=True)
        )

    def may(self, ability: Ability) -> bool:
        """Tell whether one of the roles held has the ability."""
        return not self.roles.isdisjoint(ROLES_THAT_MAY[ability])


class TakeOverCode(models.Model):
    """
    A code by which somebody signs in at a device that another was using.

    One a person, hashed; used once, and soon over.
    """

    person = models.OneToOneField(
        Person, models.CASCADE, primary_key=True, related_name="+"
    )
    code_hash = models.CharField(max_length=128)
    ends_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"code of person {self.person_id}"


class RoleGrant(models.Model):
    """One role of one person."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="grants")
    role = word_field(Role, max_length=20)
    granted_by = models.ForeignKey(
        Person, models.PROTECT, related_name="+", null=True, blank=True
    )
    granted_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["person", "role"], name="one_grant_a_role"),
            one_of("role", Role, name="role_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.role}"


class FamilyTieQuerySet(models.QuerySet["FamilyTie"]):
    def of(self, *people: "int | models.OuterRef") -> Self:
        """Keep the ties of people, by their numbers."""
        either = (models.Q(first=one) | models.Q(second=one) for one in people)
        return self.filter(reduce(or_, either, models.Q(pk__in=[])))

    def with_family(self, people: Iterable[int]) -> frozenset[int]:
        """Give people, by their numbers, and all who are declared family of one."""
        them = frozenset(people)
        ties = self.of(*them).order_by()
        return them.union(*ties.values_list("first_id", "second_id"))


class FamilyTie(models.Model):
    """Two people who are declared family of each other; kept once, lower key first."""

    first = models.ForeignKey(Person, models.CASCADE, related_name="+")
    second = models.ForeignKey(Person, models.CASCADE, related_name="+")
    declared_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    declared_at = models.DateTimeField()

    objects = FamilyTieQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["first__name", "second__name", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["first", "second"], name="one_tie_a_pair"),
            models.CheckConstraint(
                condition=models.Q(first__lt=models.F("second")),
                name="tie_has_its_lower_key_first",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.first} and {self.second}"
