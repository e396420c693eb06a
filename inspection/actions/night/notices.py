"""Notices: hung on the wall by the chief, and taken down."""

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.compute.night import NoticeKind
from inspection.models import Notice
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError


@transaction.atomic
def hang_notice(text: str, *, kind: NoticeKind, act: Act) -> Notice:
    """
    Hang a notice on the wall.

    Writes a Notice; audits ``notice.hung``.  Raises RefusedError without words.
    """
    if not text.strip():
        raise RefusedError(
            code="text_missing", sentence=_("A notice says something."), field="text"
        )
    notice = Notice.objects.create(kind=kind, text=text.strip(), by=act.by, at=act.at)
    record_event("notice.hung", subject=notice, act=act, kind=kind)
    return notice


@transaction.atomic
def take_notice_down(notice: Notice, *, act: Act) -> None:
    """
    Take a notice off the wall.

    Writes the Notice; audits ``notice.taken_down``.  Raises RefusedError when it is
    down already.
    """
    if not Notice.objects.hanging().filter(pk=notice.pk).update(taken_down_at=act.at):
        raise RefusedError(
            code="taken_down", sentence=_("This notice has been taken down already.")
        )
    record_event("notice.taken_down", subject=notice, act=act)
