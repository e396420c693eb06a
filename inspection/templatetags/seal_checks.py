"""When the seals were last checked, and with what result."""

from django import template

from inspection.loaders.seals.signed import last_check
from inspection.models import RaceNight, SealCheck

register = template.Library()


@register.simple_tag
def last_seal_check(night: RaceNight | None = None) -> SealCheck | None:
    """Give the last check of a night's seals, or of all."""
    return last_check(night)
