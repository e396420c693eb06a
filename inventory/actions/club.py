"""The club: what it is called on its sheets."""

from django.db import transaction

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.models import Club


@transaction.atomic
def name_club(*, name: str, place: str, act: Act) -> Club:
    """
    Say what the club is called and where it meets.

    Writes the one Club; audits ``club.named``.  Raises RefusedError for an
    empty name.
    """
    if not name.strip():
        raise RefusedError(
            code="name_missing", sentence="The club needs a name.", field="name"
        )
    club, _ = Club.objects.update_or_create(
        id=1, defaults={"name": name.strip(), "place": place.strip()}
    )
    record_event("club.named", subject=club, act=act)
    return club
