"""The club whose desk this is, and the way in while it has nobody: a row each."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from inventory.compute.club_ways import DecimalSign, LengthShown, MembersSee
from inventory.models.words import one_of, word_field


class Club(models.Model):
    """
    What a sheet names as its issuer, and what the whole installation goes by.

    ``address``: where printed codes lead, empty for wherever the page that prints
    them was opened.  ``time_zone``: empty for the installation's own.
    ``lets_own_cars_be_measured``: a scrutineer may measure a car that they or their
    family own or drive, and it is marked; to seal it stays for others.
    ``shows_hall``: the hall display answers without sign-in.  ``keeps_people_months``:
    who has not been heard of for so long is due to be erased; 0 for nobody.
    """

    name = models.CharField(max_length=80)
    place = models.CharField(max_length=80, blank=True)
    address = models.CharField(max_length=200, blank=True)
    time_zone = models.CharField(max_length=64, blank=True)
    lets_own_cars_be_measured = models.BooleanField(default=False)
    members_see = word_field(MembersSee, max_length=20, default=MembersSee.OWN.value)
    lengths_in = word_field(
        LengthShown,
        max_length=2,
        default=LengthShown.MILLIMETRE.value,
    )
    decimal_sign = word_field(
        DecimalSign, max_length=1, default=DecimalSign.POINT.value
    )
    shows_hall = models.BooleanField(default=True)
    #: Since when u on the block rests on each person's own repeats; none: it does not.
    own_repeatability_since = models.DateTimeField(null=True, blank=True)
    keeps_people_months = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=Q(id=1), name="there_is_one_club"),
            models.CheckConstraint(condition=~Q(name=""), name="club_has_a_name"),
            one_of("members_see", MembersSee, name="members_see_is_known"),
            one_of("lengths_in", LengthShown, name="lengths_in_is_known"),
            one_of("decimal_sign", DecimalSign, name="decimal_sign_is_known"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def uses_own_repeatability(self) -> bool:
        return self.own_repeatability_since is not None


class Beginning(models.Model):
    """The one address that begins the club; only its hash is kept."""

    code_sha256 = models.CharField(max_length=64)
    made_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(id=1), name="one_address_begins_the_club"
            ),
        ]

    def __str__(self) -> str:
        return f"made {self.made_at:%Y-%m-%d %H:%M}"
