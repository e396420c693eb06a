"""What every page may say of the installation it comes from."""

from django.conf import settings
from django.core.exceptions import DisallowedHost
from django.http import HttpRequest
from django.http.request import split_domain_port
from django.utils import timezone
from django.utils.functional import SimpleLazyObject

from deploy.starting.own_club import is_demo_in_use
from inventory.compute.hosts import is_loopback
from inventory.loaders.clocks import kept_ways


def installation(request: HttpRequest) -> dict[str, object]:
    """
    Name the club, and tell whether the connection is open to onlookers.

    The name is looked up when a page says it, so that a fragment costs no query; it is
    kept for a moment with the club's clock.
    """
    return {
        "club_name": SimpleLazyObject(club_name),
        "is_demo": SimpleLazyObject(is_demo_in_use),
        "version": settings.VERSION,
        "can_be_overheard": can_be_overheard(request),
        "shown_at": timezone.now(),
    }


def can_be_overheard(request: HttpRequest) -> bool:
    """Tell whether what is sent crosses a network in plain text."""
    try:
        host, _ = split_domain_port(request.get_host())
    except DisallowedHost:
        # The page that refuses the name says nothing of the network either way.
        return False
    return not request.is_secure() and not is_loopback(host)


def club_name() -> str:
    """Give the club's name; empty until it has one."""
    return kept_ways().name
