"""Who does a thing and when, and the audit row that every action leaves."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from inventory.files.audit_rows import AuditEntry, entry_hash
from inventory.models import AuditRow, Person


@dataclass(frozen=True, kw_only=True)
class Act:
    """Who does it and when."""

    by: Person
    at: dt.datetime


def record_event(event: str, *, subject: object, act: Act, **detail: Any) -> AuditRow:
    """
    Write down who did what; called inside the action's transaction.

    Parameters
    ----------
    event : str
        ``noun.verb``, for example ``gauge.checked``.
    subject : object
        What it was done to; its text is kept.
    act : Act
        By whom and when.
    **detail
        JSON values, no secrets.

    Returns
    -------
    AuditRow
        The row written.
    """
    return _write(event, subject=subject, at=act.at, by=act.by, detail=detail)


def record_outside_event(
    event: str, *, subject: object, at: dt.datetime, **detail: Any
) -> AuditRow | None:
    """
    Write down what somebody did who has not signed in, or the service itself.

    Nothing is written before a club has begun: there is nobody to read it, and a club
    that is brought in has rows of the same numbers, which are never changed.

    Parameters
    ----------
    event : str
        ``noun.verb``, for example ``sign_in.failed``.
    subject : object
        What it was done to; its text is kept.
    at : datetime
        When.
    **detail
        JSON values, no secrets.

    Returns
    -------
    AuditRow or None
        The row written; it names no actor.  None where nobody is there yet.
    """
    if not Person.objects.exists():
        return None
    return _write(event, subject=subject, at=at, by=None, detail=detail)


@transaction.atomic
def record_export(subject: object, *, act: Act, form: str) -> AuditRow:
    """
    Note that somebody took data out as a file.

    Audits ``data.exported``.

    Parameters
    ----------
    subject : object
        What was taken out.
    act : Act
        By whom and when.
    form : str
        The kind of file.

    Returns
    -------
    AuditRow
        The row written.
    """
    return record_event("data.exported", subject=subject, act=act, form=form)


def _write(
    event: str,
    *,
    subject: object,
    at: dt.datetime,
    by: Person | None,
    detail: dict[str, Any],
) -> AuditRow:
    entry = AuditEntry(
        at=at,
        by=by.pk if by else None,
        event=event,
        subject=str(subject)[:120],
        detail=detail,
    )
    return AuditRow.objects.create(
        at=at,
        actor=by,
        event=event,
        subject=entry.subject,
        detail=detail,
        sha256=entry_hash(entry),
    )
