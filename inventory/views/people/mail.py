"""Sending a link by mail, where the installation can."""

from smtplib import SMTPException, SMTPRecipientsRefused, SMTPResponseException

from django.core.mail import send_mail
from django.utils.translation import gettext as _

from inventory.compute.handed_links import LinkKind
from inventory.models import Club, HandedLink


def send_link(link: HandedLink, address: str, *, to: str) -> str:
    """Send it; give a sentence of why not where that failed, else nothing."""
    club = Club.objects.values_list("name", flat=True).first() or "Feelerbook"
    if link.kind == LinkKind.INVITATION:
        subject = _("You are invited to %(club)s") % {"club": club}
        words = _("Join here, once, within 7 days:")
    else:
        subject = _("A new password for %(club)s") % {"club": club}
        words = _("Choose a new password here, once, within 10 minutes:")
    unasked = _("If you know nothing of this, leave it: nothing happens.")
    try:
        send_mail(subject, f"{words}\n\n{address}\n\n{unasked}\n", None, [to])
    except (SMTPException, OSError) as error:
        return _("The mail was not sent (%(why)s). Hand the link over instead.") % {
            "why": _why(error)
        }
    return ""


def _why(error: SMTPException | OSError) -> str:
    """Give the mail server's own words, where it said any."""
    words: bytes | str
    if isinstance(error, SMTPRecipientsRefused):
        # One address, so one refusal: its number and its words.
        _number, words = next(iter(error.recipients.values()))
    elif isinstance(error, SMTPResponseException):
        words = error.smtp_error
    else:
        words = str(error) or type(error).__name__
    return words.decode(errors="replace") if isinstance(words, bytes) else str(words)
