"""What every page may say of the installation it comes from."""

from django.conf import settings
from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from inventory.models import Club


def installation(request: HttpRequest) -> dict[str, object]:
    """
    Name the club, and tell whether the connection is open to onlookers.

    The name is looked up when a page says it, so that a fragment costs no query.
    """
    return {
        "club_name": SimpleLazyObject(club_name),
        "version": settings.VERSION,
        "plain_http": not request.is_secure(),
    }


def club_name() -> str:
    """Give the club's name; empty until it has one."""
    return Club.objects.values_list("name", flat=True).first() or ""
