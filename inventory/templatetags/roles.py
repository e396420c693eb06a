"""What the person looking at a page may do there."""

from typing import Any

from django import template

from inventory.compute.roles import Role

register = template.Library()


@register.simple_tag(takes_context=True)
def has_role(context: dict[str, Any], *roles: str) -> bool:
    """Tell whether the signed-in person holds one of the roles."""
    user = context["user"]
    return bool(
        user.is_authenticated and user.has_role(*(Role(role) for role in roles))
    )
