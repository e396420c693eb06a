"""
A second factor: six digits from a phone beside the password, and codes for its loss.

The library counts wrong codes and lets each be used once.  Of a recovery code a hash
is kept in its place.
"""

import datetime as dt
import hashlib
import secrets
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django_otp import verify_token
from django_otp.models import Device
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.actions.audit import Act, record_event, record_outside_event
from inventory.actions.refusals import RefusedError
from inventory.compute.stock import ALPHABET
from inventory.models import OpenSession, Person

RECOVERY_CODES: Final = 10
_PHONE: Final = "phone"
_PAPER: Final = "recovery codes"
_KEPT_SIGNS: Final = 16


@transaction.atomic
def begin_second_factor(*, act: Act) -> TOTPDevice:
    """
    Make the secret that a phone is told; nothing is asked for until it is confirmed.

    Writes a TOTPDevice; audits ``second_factor.begun``.  Raises RefusedError for who
    has a second factor.
    """
    if second_factor_of(act.by) is not None:
        raise RefusedError(
            code="has_one",
            sentence=_("You have a second factor already; take it away first."),
        )
    TOTPDevice.objects.filter(user=act.by).delete()
    device = TOTPDevice.objects.create(user=act.by, name=_PHONE, confirmed=False)
    record_event("second_factor.begun", subject=f"person {act.by.pk}", act=act)
    return device


@transaction.atomic
def confirm_second_factor(code: str, *, act: Act) -> list[str]:
    """
    Hold the phone's first code against the secret, and give the recovery codes.

    Writes the TOTPDevice and a StaticDevice with its tokens; audits
    ``second_factor.added``.  Raises RefusedError for a wrong code.
    """
    begun = TOTPDevice.objects.filter(user=act.by, confirmed=False).first()
    if begun is None or verify_token(act.by, begun.persistent_id, _plain(code)) is None:
        raise _wrong(code)
    TOTPDevice.objects.filter(pk=begun.pk).update(confirmed=True)
    codes = _write_recovery_codes(act.by)
    record_event("second_factor.added", subject=f"person {act.by.pk}", act=act)
    return codes


@transaction.atomic
def renew_recovery_codes(*, act: Act) -> list[str]:
    """
    Make new recovery codes; those from before work no more.

    Writes a StaticDevice with its tokens; audits ``recovery_codes.renewed``.  Raises
    RefusedError for who has no second factor.
    """
    if second_factor_of(act.by) is None:
        raise RefusedError(
            code="has_none", sentence=_("You have no second factor yet.")
        )
    codes = _write_recovery_codes(act.by)
    record_event("recovery_codes.renewed", subject=f"person {act.by.pk}", act=act)
    return codes


@transaction.atomic
def take_second_factor(person: Person, *, act: Act) -> None:
    """
    Take a second factor away; a person does it for themselves, an admin for others.

    Deletes their devices and, where another does it, their sessions; audits
    ``second_factor.taken``.  Raises RefusedError where there is none.
    """
    _refuse_none_to_take(person)
    forget_second_factor(person)
    if act.by != person:
        OpenSession.objects.filter(person=person).delete()
    record_event("second_factor.taken", subject=f"person {person.pk}", act=act)


@transaction.atomic
def take_second_factor_by_command(person: Person, *, at: dt.datetime) -> None:
    """
    Do the same at the machine itself, for an admin whom nobody else can help.

    Deletes their devices and sessions; audits ``second_factor.taken`` without an
    actor.  Raises RefusedError where there is none.
    """
    _refuse_none_to_take(person)
    forget_second_factor(person)
    OpenSession.objects.filter(person=person).delete()
    record_outside_event("second_factor.taken", subject=f"person {person.pk}", at=at)


def _refuse_none_to_take(person: Person) -> None:
    if second_factor_of(person) is None:
        raise RefusedError(
            code="has_none",
            sentence=_("%(person)s has no second factor to take away.")
            % {"person": person},
        )


def forget_second_factor(person: Person) -> None:
    """Delete what is kept of a person's second factor; part of an action."""
    TOTPDevice.objects.filter(user=person).delete()
    StaticDevice.objects.filter(user=person).delete()


def second_factor_of(person: Person) -> TOTPDevice | None:
    """Give the phone of which a person is asked for a code, if there is one."""
    return TOTPDevice.objects.filter(user=person, confirmed=True).first()


def codes_left(person: Person) -> int:
    """Count the recovery codes that a person has not used."""
    return int(StaticToken.objects.filter(device__user=person).count())


def check_second_factor(person: Person, code: str) -> Device:
    """
    Hold a code of the phone, or a recovery code, against what is kept; either is used.

    Written by the library, in a transaction of its own that a wrong code commits.
    Raises RefusedError for a wrong code, and while one must wait after several.
    """
    plain = _plain(code)
    is_recovery = not plain.isdecimal()
    kept: Device | None = (
        StaticDevice.objects.filter(user=person).first()
        if is_recovery
        else second_factor_of(person)
    )
    if kept is None:
        raise _wrong(code)
    may_try, why_not = kept.verify_is_allowed()
    if not may_try:
        until = why_not["locked_until"]
        seconds = max(1, round((until - timezone.now()).total_seconds()))
        raise RefusedError(
            code="wait",
            sentence=_(
                "Several codes were wrong. Wait %(seconds)s s, then type the one that "
                "is shown then."
            )
            % {"seconds": seconds},
            field="code",
        )
    token = _kept_form(plain) if is_recovery else plain
    if verify_token(person, kept.persistent_id, token) is None:
        raise _wrong(code)
    return kept


def _write_recovery_codes(person: Person) -> list[str]:
    StaticDevice.objects.filter(user=person).delete()
    device = StaticDevice.objects.create(user=person, name=_PAPER)
    codes = [_new_recovery_code() for _ in range(RECOVERY_CODES)]
    StaticToken.objects.bulk_create(
        StaticToken(device=device, token=_kept_form(_plain(code))) for code in codes
    )
    return codes


def _new_recovery_code() -> str:
    letters = [sign for sign in ALPHABET.lower() if sign.isalpha()]
    # A letter first: digits alone are a phone's.
    signs = [secrets.choice(letters), *(secrets.choice(ALPHABET) for _ in range(9))]
    word = "".join(signs).lower()
    return f"{word[:5]}-{word[5:]}"


def _plain(code: str) -> str:
    return "".join(sign for sign in code.lower() if sign.isalnum())


def _kept_form(plain: str) -> str:
    return hashlib.sha256(plain.encode()).hexdigest()[:_KEPT_SIGNS]


def _wrong(code: str) -> RefusedError:
    return RefusedError(
        code="wrong_code",
        sentence=_(
            "“%(code)s” is not the code that is shown now. Six digits from the phone "
            "were expected, each once, or a recovery code; look whether the phone’s "
            "clock is right."
        )
        % {"code": code},
        field="code",
    )
