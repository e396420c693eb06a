"""Many parts laid into another drawer at once; a bag goes with what is in it."""

from collections.abc import Collection
from typing import Final

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.stock import PartState
from inventory.models import FactChange, Part, PartSet, SetMember

MOST_AT_ONCE: Final = 5_000


@transaction.atomic
def lay_parts(tags: Collection[str], drawer: str, *, act: Act) -> int:
    """
    Lay parts into a drawer, and with a part of a bag the whole bag.

    Writes the Parts' drawers, those of their PartSets and a FactChange a part;
    audits ``parts.laid``.  Gives how many were laid.  Raises RefusedError without a
    part or a drawer, or for one that is retired or unknown; then nothing is written.
    """
    place = drawer.strip()
    if not place:
        raise RefusedError(
            code="no_drawer", sentence=_("Say into which drawer."), field="drawer"
        )
    if not tags or len(tags) > MOST_AT_ONCE:
        raise RefusedError(
            code="no_parts",
            sentence=_("%(n)s parts are ticked; expected 1 to %(most_at_once)s.")
            % {"n": f"{len(tags):,}", "most_at_once": f"{MOST_AT_ONCE:,}"},
        )
    club = Part.objects.of_the_club()
    named = list(club.filter(tag__in=tags).values_list("pk", flat=True))
    together = SetMember.objects.filter(part__in=named, ended_at=None)
    sets = list(
        PartSet.objects.select_for_update()
        .filter(pk__in=together.values("part_set"))
        .order_by("pk")
        .values_list("pk", flat=True)
    )
    with_them = SetMember.objects.filter(part_set__in=sets, ended_at=None)
    ids = {*named, *with_them.values_list("part", flat=True)}
    parts = list(Part.objects.select_for_update().filter(pk__in=ids).order_by("pk"))
    retired = [one.tag for one in parts if one.state == PartState.RETIRED]
    if retired or len(named) != len(set(tags)):
        known = {one.tag for one in parts}
        odd = [*retired, *(tag for tag in tags if tag not in known)]
        raise RefusedError(
            code="not_in_use",
            sentence=_(
                "%(list)s: not in use, or no part's tag; nothing was laid elsewhere."
            )
            % {"list": ", ".join(odd[:6])},
        )
    moved = [one for one in parts if one.drawer != place]
    FactChange.objects.bulk_create(
        FactChange(
            part=one,
            fact="drawer",
            before=one.drawer,
            after=place,
            at=act.at,
            by=act.by,
        )
        for one in moved
    )
    changed = Part.objects.filter(pk__in=[one.pk for one in moved])
    changed.update(drawer=place, version=F("version") + 1)
    PartSet.objects.filter(pk__in=sets).update(drawer=place)
    record_event("parts.laid", subject=place, act=act, parts=len(moved))
    return len(parts)
