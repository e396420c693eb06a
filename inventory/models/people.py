"""People of the club and what they may do."""

import secrets
from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.utils.functional import cached_property

from inventory.compute.roles import Role
from inventory.models.words import choices_of, one_of


def new_salt() -> str:
    """Return a salt for the hash by which a seal knows a person's name."""
    return secrets.token_hex(16)


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

    def __str__(self) -> str:
        return self.name

    @cached_property
    def roles(self) -> frozenset[Role]:
        """Roles held; one query, kept for the request."""
        return frozenset(
            Role(word) for word in self.grants.values_list("role", flat=True)
        )

    def has_role(self, *roles: Role) -> bool:
        return not self.roles.isdisjoint(roles)


class RoleGrant(models.Model):
    """One role of one person."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="grants")
    role = models.CharField(max_length=20, choices=choices_of(Role))
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
