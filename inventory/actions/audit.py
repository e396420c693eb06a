"""Who does a thing and when, and the audit row that every action leaves."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

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
    return AuditRow.objects.create(
        at=act.at,
        actor=act.by,
        event=event,
        subject=str(subject)[:120],
        detail=detail,
    )
