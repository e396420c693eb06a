"""Links to the desk's pages: only to those that exist and that the person may open."""

from typing import Any

from django import template
from django.urls import NoReverseMatch, resolve, reverse

register = template.Library()


@register.inclusion_tag("inventory/pieces/page_link.html", takes_context=True)
def page_link(context: dict[str, Any], name: str, word: str) -> dict[str, object]:
    """Write a link to a page by its name; nothing for one that is not there."""
    try:
        address = reverse(name)
    except NoReverseMatch:
        return {}
    if not _may_open(context.get("user"), address):
        return {}
    path = getattr(context.get("request"), "path", "")
    return {"to": address, "word": word, "current": _current(address, path)}


def _may_open(user: Any, address: str) -> bool:
    """Ask the view itself whom it is for; one that says nothing is for all."""
    roles = getattr(resolve(address).func, "allowed_roles", None)
    if roles is None:
        return True
    return bool(user and user.is_authenticated and user.has_role(*roles))


def _current(address: str, path: str) -> str:
    """Give ``aria-current``: the page itself, or one of the pages below it."""
    if path == address:
        return "page"
    below = f"{address.rstrip('/')}/"
    return "true" if below != "/" and path.startswith(below) else ""
