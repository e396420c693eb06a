"""A club with years behind it: the demo's season, and before it a long history."""

import datetime as dt

from django.db import transaction

from deploy.demo.club import Calendar, gather_club, hold_season
from deploy.demo.nights import Night
from inspection.actions.night_sums import keep_night_sums
from tests.bench.years.garage import Garage
from tests.bench.years.nights import Chronicle
from tests.bench.years.people import join_members
from tests.bench.years.sizes import Sizes
from tests.bench.years.templates import play_templates

#: The last copied night is so many days before tonight; one a week before it.
LAST_DAYS_AGO = 35
_NIGHTS_A_TRANSACTION = 20


class Years:
    """The demo club before its own season, with its history written night by night."""

    def __init__(self, sizes: Sizes, *, now: dt.datetime, password: str) -> None:
        self.sizes = sizes
        self.calendar = Calendar(now=now)
        self.founded = gather_club(self.calendar, password=password)
        first = LAST_DAYS_AGO + 7 * (sizes.nights - 1)
        opens = [
            self.calendar.days_ago(first - 7 * place) for place in range(sizes.nights)
        ]
        templates = play_templates(
            self.founded, sizes, opens_at=opens[0] - dt.timedelta(days=7 * 60)
        )
        with transaction.atomic():
            crew, members = join_members(sizes, at=opens[0] - dt.timedelta(days=30))
            self.garage = Garage(self.founded, sizes, owners=members, opens=opens)
        self.chronicle = Chronicle(self.founded, templates, self.garage, crew=crew)
        self.cars = self.garage.at_night()

    def write(self, nights: range) -> None:
        """Write some nights, which follow those written before."""
        for start in range(nights.start, nights.stop, _NIGHTS_A_TRANSACTION):
            with transaction.atomic():
                stop = min(start + _NIGHTS_A_TRANSACTION, nights.stop)
                for place in range(start, stop):
                    self.chronicle.write(place, self.cars[place])
                keep_night_sums()

    def end(self) -> None:
        """Write what is current now that no night follows."""
        with transaction.atomic():
            self.garage.learned.write(is_last=True)

    def hold_season(self) -> Night:
        """Play the demo's own season up to tonight."""
        return hold_season(self.founded, self.calendar)


def play_years(sizes: Sizes, *, now: dt.datetime, password: str) -> Night:
    """
    Make the demo club with a history of so many nights before its own season.

    Gives tonight as it stands, as ``play_club`` does.
    """
    years = Years(sizes, now=now, password=password)
    years.write(range(sizes.nights))
    years.end()
    return years.hold_season()
