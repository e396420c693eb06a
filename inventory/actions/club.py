"""The club: what it is called on its sheets, where it is reached, its clock."""

import datetime as dt
from dataclasses import asdict, dataclass, fields
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.club_ways import DecimalSign, LengthShown, MembersSee
from inventory.loaders.clocks import forget_zone
from inventory.models import Club


@dataclass(frozen=True, kw_only=True)
class ClubSettings:
    """What the whole installation goes by; empty where it is left to itself."""

    name: str
    place: str = ""
    address: str = ""
    time_zone: str = ""
    lets_own_cars_be_measured: bool = False
    members_see: MembersSee = MembersSee.OWN
    lengths_in: LengthShown = LengthShown.MILLIMETRE
    decimal_sign: DecimalSign = DecimalSign.POINT
    shows_hall: bool = True
    keeps_people_months: int = 0
    uses_own_repeatability: bool = False


@transaction.atomic
def settle_club(chosen: ClubSettings, *, act: Act) -> Club:
    """
    Say what the club is called, where it meets and is reached, its time and its ways.

    Writes the one Club; audits ``club.settled``.  Raises RefusedError for an empty
    name or a time zone that there is not.
    """
    if not chosen.name.strip():
        raise RefusedError(
            code="name_missing", sentence=_("The club needs a name."), field="name"
        )
    if chosen.time_zone:
        _check_zone(chosen.time_zone)
    settings = {
        name: word.strip() if isinstance(word, str) else word
        for name, word in asdict(chosen).items()
    }
    kept = {one: settings[one] for one in settings if one != "uses_own_repeatability"}
    kept["own_repeatability_since"] = _since(chosen, act)
    club, _is_new = Club.objects.update_or_create(id=1, defaults=kept)
    forget_zone()
    record_event("club.settled", subject=club, act=act, **settings)
    return club


def name_club(*, name: str, place: str, act: Act) -> Club:
    """
    Say what the club is called and where it meets, and leave the rest as it is.

    Writes the one Club; audits ``club.settled``.  Raises RefusedError for an
    empty name.
    """
    now = Club.objects.first() or Club()
    rest = {
        one.name: getattr(now, one.name)
        for one in fields(ClubSettings)
        if one.name not in {"name", "place"}
    }
    return settle_club(ClubSettings(name=name, place=place, **rest), act=act)


@transaction.atomic
def record_leaving(*, act: Act) -> None:
    """
    Note that the club was left for another data file of the same folder.

    Audits ``club.left``.
    """
    record_event("club.left", subject="for a club of our own", act=act)


def _since(chosen: ClubSettings, act: Act) -> dt.datetime | None:
    """Give when it was published that own repeats count; said again, it stays."""
    if not chosen.uses_own_repeatability:
        return None
    before = Club.objects.values_list("own_repeatability_since", flat=True).first()
    return before or act.at


def _check_zone(name: str) -> None:
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        raise RefusedError(
            code="zone_unknown",
            sentence=_(
                "“%(name)s” is no time zone; one such as Europe/London was expected."
            )
            % {"name": name},
            field="time_zone",
        ) from error
