"""Beginning a club: an address that works once, and the admin who comes in by it."""

import datetime as dt
import hmac
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from inventory.actions.people.codes import code_hash, new_code
from inventory.actions.people.joining import found_club
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.models import Beginning, Person

GOOD_FOR: Final = dt.timedelta(hours=24)


@dataclass(frozen=True, kw_only=True)
class Founder:
    """Who begins the club."""

    sign_in_name: str
    name: str
    password: str
    roles: Iterable[Role] = ()


def make_beginning(*, at: dt.datetime) -> str:
    """
    Make the code of the address that begins the club; the one before is void.

    Writes the one Beginning; there is nobody yet whom an audit row could name.
    Raises RefusedError when the club has people.
    """
    if Person.objects.exists():
        raise RefusedError(
            code="club_exists", sentence=_("The club has people already; ask an admin.")
        )
    code = new_code()
    Beginning.objects.update_or_create(
        id=1, defaults={"code_sha256": code_hash(code), "made_at": at}
    )
    return code


def check_beginning(code: str, *, at: dt.datetime) -> None:
    """
    Look whether a code begins the club.

    Writes nothing.  Raises RefusedError when it is not the last one made, is
    older than a day, or has been used.
    """
    made = Beginning.objects.first()
    if made is None or not hmac.compare_digest(made.code_sha256, code_hash(code)):
        raise RefusedError(
            code="not_a_beginning",
            sentence=_(
                "This address begins no club: it was used, or a newer one was printed "
                "since. Start Feelerbook again, and use the one it prints."
            ),
        )
    if at - made.made_at > GOOD_FOR:
        raise RefusedError(
            code="too_old",
            sentence=_(
                "This address was good for 24 hours. Start Feelerbook again: it prints "
                "a new one."
            ),
        )


@transaction.atomic
def begin_club(code: str, founder: Founder, *, at: dt.datetime) -> Person:
    """
    Let the admin in who came by the address; it works no more.

    Writes a Person and their RoleGrants, takes the Beginning away; audits
    ``club.founded``.  Raises RefusedError when the code is not good any more.
    """
    # Two who send the form at once wait here for each other.
    list(Beginning.objects.select_for_update())
    check_beginning(code, at=at)
    person = found_club(
        sign_in_name=founder.sign_in_name,
        name=founder.name,
        password=founder.password,
        roles=founder.roles,
        act_at=at,
    )
    Beginning.objects.all().delete()
    return person
