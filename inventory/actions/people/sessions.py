"""Ending sessions: one's own, one by one or all others."""

from django.db import transaction
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.models import OpenSession


@transaction.atomic
def end_session(mark: str, *, act: Act) -> None:
    """
    End one of one's own sessions; the device signs in anew.

    Deletes an OpenSession; audits ``session.ended``.  Raises RefusedError where it
    has ended already.
    """
    ended, _kinds = OpenSession.objects.filter(person=act.by, mark=mark).delete()
    if not ended:
        raise RefusedError(
            code="ended_already", sentence=_("That device is signed out already.")
        )
    record_event("session.ended", subject=f"person {act.by.pk}", act=act)


@transaction.atomic
def end_other_sessions(session_key: str, *, act: Act) -> int:
    """
    End all of one's own sessions but this one, and tell how many there were.

    Deletes OpenSessions; audits ``sessions.ended``.
    """
    others = OpenSession.objects.filter(person=act.by).exclude(pk=session_key)
    ended, _kinds = others.delete()
    record_event("sessions.ended", subject=f"person {act.by.pk}", act=act, count=ended)
    return ended
