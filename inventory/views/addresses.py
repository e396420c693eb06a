"""Addresses: where the codes on paper lead, and the way back to where one was."""

from urllib.parse import urlsplit

from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme

from inventory.compute.hosts import is_loopback
from inventory.models import Club

_KEPT = "feelerbook_printed_base"


def printed_address(request: HttpRequest, path: str) -> str:
    """
    Give the address that a code on paper leads to.

    The club's own, where it has said one: a label outlives the address that the
    page which printed it happened to be opened at.
    """
    base = request.META.get(_KEPT)
    if base is None:
        address = Club.objects.values_list("address", flat=True).first()
        # Kept with the request: a sheet of labels asks once.
        base = request.META[_KEPT] = address or request.build_absolute_uri("/")
    return f"{base}{path.lstrip('/')}"


def is_only_here(address: str) -> bool:
    """Tell whether an address leads nowhere on any other device."""
    return is_loopback(urlsplit(address).hostname or "")


def way_back(request: HttpRequest) -> str:
    """Give the page that a form was sent from, where it is one of this club's."""
    back = request.POST.get("back", "")
    hosts = {request.get_host()}
    is_ours = url_has_allowed_host_and_scheme(
        back, hosts, require_https=request.is_secure()
    )
    return back if is_ours else ""
