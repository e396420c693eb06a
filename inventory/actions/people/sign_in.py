"""
Signing in: who came in or went, who did not get in, and who has to wait.

A name as typed is not kept: people type their password into the wrong field, and
these rows are never changed.  A failure names the person it was meant for, if there
is one.
"""

import datetime as dt
import secrets
from typing import Any, Final

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction

from inventory.actions.audit import Act, record_event, record_outside_event
from inventory.models import Person, TakeOverCode

NOBODY = "unknown sign-in name"
#: Digits of a code, typed with cold fingers; so long it lasts.
CODE_DIGITS: Final = 6
CODE_LASTS: Final = dt.timedelta(minutes=2)


@transaction.atomic
def record_sign_in(*, act: Act, address: str) -> None:
    """
    Note that somebody signed in, and from where.

    Audits ``person.signed_in``.
    """
    record_event("person.signed_in", subject=_subject(act.by), act=act, address=address)


@transaction.atomic
def record_sign_out(*, act: Act) -> None:
    """
    Note that somebody signed out.

    Audits ``person.signed_out``.
    """
    record_event("person.signed_out", subject=_subject(act.by), act=act)


@transaction.atomic
def record_password_change(*, act: Act) -> None:
    """
    Note that somebody changed their own password.

    Audits ``person.password_changed``.
    """
    record_event("person.password_changed", subject=_subject(act.by), act=act)


@transaction.atomic
def make_take_over_code(*, act: Act) -> str:
    """
    Give somebody a code by which they take a device over; the one before ends.

    Writes their TakeOverCode, which holds its hash alone; audits
    ``person.code_made``.
    """
    code = f"{secrets.randbelow(10**CODE_DIGITS):0{CODE_DIGITS}d}"
    TakeOverCode.objects.update_or_create(
        person=act.by,
        defaults={"code_hash": make_password(code), "ends_at": act.at + CODE_LASTS},
    )
    record_event("person.code_made", subject=_subject(act.by), act=act)
    return code


@transaction.atomic
def use_take_over_code(person: Person, code: str, *, at: dt.datetime) -> bool:
    """
    Tell whether a code is somebody's and still holds; it then holds no longer.

    Deletes the TakeOverCode that was used; no audit row, what it is used for has one.
    """
    kept = TakeOverCode.objects.select_for_update().filter(
        person=person, ends_at__gt=at
    )
    newest = kept.first()
    if newest is None or not check_password(code, newest.code_hash):
        return False
    newest.delete()
    return True


@transaction.atomic
def record_failure(
    name: str, *, at: dt.datetime, address: str, wait: dt.timedelta
) -> None:
    """
    Note a wrong password, and the wait that it brings if it brings one.

    Audits ``sign_in.failed`` and, with a wait, ``sign_in.locked``.
    """
    person = Person.objects.filter(sign_in_name__iexact=name).first()
    facts: dict[str, Any] = {"subject": _subject(person), "at": at, "address": address}
    record_outside_event("sign_in.failed", **facts)
    if wait:
        seconds = round(wait.total_seconds())
        record_outside_event("sign_in.locked", **facts, seconds=seconds)


@transaction.atomic
def record_wrong_code(person: Person, *, at: dt.datetime, address: str) -> None:
    """
    Note that the password was right and the second factor was not.

    Audits ``second_factor.failed``.
    """
    record_outside_event(
        "second_factor.failed", subject=_subject(person), at=at, address=address
    )


def _subject(person: Person | None) -> str:
    return NOBODY if person is None else f"person {person.pk}"
