"""Links to the desk's pages: only to those that exist and that the person may open."""

from functools import cache
from typing import Any

from django import template
from django.conf import settings
from django.urls import NoReverseMatch, get_urlconf, resolve, reverse
from django.utils.html import format_html

from inventory.compute.roles import Ability

register = template.Library()


# Not a template of its own: each page writes the menu twice, two dozen of these.
@register.simple_tag(takes_context=True)
def page_link(context: dict[str, Any], name: str, word: str) -> str:
    """Write a link to a page by its name; nothing for one that is not there."""
    try:
        address = reverse(name)
    except NoReverseMatch:
        return ""
    if not _may_open(context.get("user"), address):
        return ""
    path = getattr(context.get("request"), "path", "")
    current = _current(address, path)
    attribute = format_html(' aria-current="{}"', current) if current else ""
    return format_html('<li><a href="{}"{}>{}</a></li>', address, attribute, word)


def _may_open(user: Any, address: str) -> bool:
    """Ask the view itself whom it is for; one that says nothing is for all."""
    ability = _asked_for(address, get_urlconf() or settings.ROOT_URLCONF)
    if ability is None:
        return True
    return bool(user and user.is_authenticated and user.may(ability))


# Every page asks this of each link of its menu, and to find a view among all
# patterns takes longer than to write the rest of the link.
@cache
def _asked_for(address: str, urlconf: str) -> Ability | None:
    """Give the ability that the view at one of the desk's own addresses asks for."""
    return getattr(resolve(address, urlconf).func, "asks_for", None)


def _current(address: str, path: str) -> str:
    """Give ``aria-current``: the page itself, or one of the pages below it."""
    if path == address:
        return "page"
    below = f"{address.rstrip('/')}/"
    return "true" if below != "/" and path.startswith(below) else ""
