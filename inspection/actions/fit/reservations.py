"""Parts that are reserved together, such as the two tyres of a pair."""

from collections.abc import Iterable

from django.db import transaction
from django.utils.translation import gettext as _

from inventory.actions.audit import Act
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import reserve_part
from inventory.models import Part


@transaction.atomic
def reserve_parts(tags: Iterable[str], *, act: Act) -> list[Part]:
    """
    Reserve parts for the person who asks: all of them or none.

    Writes what ``reserve_part`` writes.  Raises RefusedError when one is not to be
    had; then nothing is written.
    """
    wanted = list(dict.fromkeys(tags))
    part_by_tag = {part.tag: part for part in Part.objects.filter(tag__in=wanted)}
    missing = [tag for tag in wanted if tag not in part_by_tag]
    if missing or not wanted:
        raise RefusedError(
            code="no_such_part",
            sentence=_("There is no part %(list)s.") % {"list": ", ".join(missing)}
            if missing
            else _("No part was chosen."),
        )
    # In one order, so that two people who want the same pair never wait crosswise.
    parts = sorted(part_by_tag.values(), key=lambda part: part.pk)
    for part in parts:
        reserve_part(part, act=act)
    return parts
