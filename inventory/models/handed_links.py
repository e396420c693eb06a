"""Links handed to a person, by a code on a screen or by mail; one use each."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from inventory.compute.handed_links import LinkKind
from inventory.compute.roles import Role
from inventory.models.people import Person
from inventory.models.words import one_of, word_field


class HandedLink(models.Model):
    """
    One invitation or password link; of its code the hash alone is kept.

    ``name``: who is invited, taken away when the link is used.  ``person``: whose
    password it is for, or who came by the invitation.
    """

    kind = word_field(LinkKind, max_length=12)
    code_sha256 = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(
        Person, models.PROTECT, related_name="+", null=True, blank=True
    )
    made_at = models.DateTimeField()
    good_until = models.DateTimeField()
    name = models.CharField(max_length=80, blank=True)
    person = models.ForeignKey(
        Person, models.CASCADE, related_name="links", null=True, blank=True
    )
    used_at = models.DateTimeField(null=True, blank=True)
    used_with = models.CharField(max_length=60, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-made_at", "-id"]
        constraints: ClassVar = [
            one_of("kind", LinkKind, name="link_kind_is_known"),
            models.CheckConstraint(
                condition=~Q(kind=LinkKind.PASSWORD.value) | Q(person__isnull=False),
                name="password_link_is_for_somebody",
            ),
            models.CheckConstraint(
                condition=Q(used_at__isnull=True) | Q(withdrawn_at__isnull=True),
                name="link_is_used_or_withdrawn",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} link {self.pk}"


class InvitedRole(models.Model):
    """A role that an invitation brings."""

    link = models.ForeignKey(HandedLink, models.CASCADE, related_name="roles")
    role = word_field(Role, max_length=20)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["link", "role"], name="one_invited_role_a_link"
            ),
            one_of("role", Role, name="invited_role_is_known"),
        ]

    def __str__(self) -> str:
        return str(self.role)
