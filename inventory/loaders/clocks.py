"""
The club's name, time zone and ways, kept for a moment: every page has some of them.

A zone changes once in a club's life.  The process that changes it forgets at once
what it kept; another one, of the same server, within ``KEPT_S``.
"""

import time
from dataclasses import dataclass
from typing import ClassVar, Final
from zoneinfo import ZoneInfo

from django.conf import settings

from inventory.compute.club_ways import DecimalSign, LengthShown
from inventory.models import Club

KEPT_S: Final = 10.0


@dataclass(frozen=True)
class KeptZone:
    """The zone and the ways as they were read, and when, by a clock never set."""

    zone: ZoneInfo
    read_s: float
    lengths_in: LengthShown = LengthShown.MILLIMETRE
    decimal_sign: DecimalSign = DecimalSign.POINT
    shows_hall: bool = True
    name: str = ""

    now: ClassVar["KeptZone | None"] = None


def club_zone() -> ZoneInfo:
    """Give the club's time zone, else the installation's."""
    return kept_ways().zone


def kept_ways() -> KeptZone:
    """Give how the club writes times and figures."""
    kept = KeptZone.now
    if kept is None or time.monotonic() - kept.read_s > KEPT_S:
        club = Club.objects.first() or Club()
        kept = KeptZone.now = KeptZone(
            ZoneInfo(club.time_zone or settings.TIME_ZONE),
            time.monotonic(),
            club.lengths_in,
            club.decimal_sign,
            club.shows_hall,
            club.name,
        )
    return kept


def forget_zone() -> None:
    """Read the zone anew when it is next asked for."""
    KeptZone.now = None
