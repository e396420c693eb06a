"""
What is done by the clock, once for the club however many machines serve it.

A machine that finds another at it leaves it to that one; what was done lately by
any of them is not due.  The time of the last is in the database, which they share.
"""

import contextlib
import datetime as dt
from collections.abc import Iterator
from typing import Final

from django.core.management import call_command
from django.db import connection

from deploy.keeping.backups import MADE, Made, make_backup, note_backup
from deploy.keeping.copies import database_file
from deploy.keeping.manifest import Why
from deploy.starting.refusals import NoTurnError
from deploy.starting.turns import one_at_a_time
from inspection.compute.night import Occasion
from inspection.loaders.night.open_nights import is_a_night_open
from inspection.models import SealCheck
from inventory.models import AuditRow, Person

# A timer of five minutes, and of a day, may come a little early.
BETWEEN_AT_NIGHT: Final = dt.timedelta(minutes=4, seconds=30)
BETWEEN_DAYS: Final = dt.timedelta(hours=22)
# A number of this program's own among PostgreSQL's advisory locks.
_SCHEDULE_LOCK: Final = 0x6665656C6573


def why_due(last: dt.datetime | None, *, at: dt.datetime, at_night: bool) -> Why | None:
    """
    Tell for what a backup is due now, if it is.

    A last one that lies in the future was noted by a clock that went wrong.
    """
    age = BETWEEN_DAYS if last is None or last > at else at - last
    if at_night:
        return Why.NIGHT if age >= BETWEEN_AT_NIGHT else None
    return Why.DAILY if age >= BETWEEN_DAYS else None


def back_up_if_due(*, at: dt.datetime) -> Made | None:
    """
    Make a backup if one is due and nobody else is making it.

    Where nobody is there yet there is nothing to keep, nor anything to note it in.
    """
    if not Person.objects.exists():
        return None
    with is_only_one() as is_ours:
        why = why_due(last_made(), at=at, at_night=is_a_night_open())
        if not is_ours or why is None:
            return None
        made = make_backup(why, at=at)
        note_backup(made)
        return made


def check_seals_if_due(*, at: dt.datetime) -> bool:
    """Run the daily check of the seals if it is due and nobody else runs it."""
    with is_only_one() as is_ours:
        last = SealCheck.objects.filter(occasion=Occasion.DAILY).order_by("-at").first()
        if not is_ours or (last and dt.timedelta() <= at - last.at < BETWEEN_DAYS):
            return False
        call_command("check_seals", after="day")
        return True


def last_made() -> dt.datetime | None:
    """Return when any machine made the last backup of this database."""
    rows = AuditRow.objects.filter(event=MADE).order_by("-id")
    return rows.values_list("at", flat=True).first()


@contextlib.contextmanager
def is_only_one() -> Iterator[bool]:
    """Hold the schedule's lock, or yield False where another holds it."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_try_advisory_lock(%s)", [_SCHEDULE_LOCK])
            is_ours = bool(cursor.fetchone()[0])
            try:
                yield is_ours
            finally:
                if is_ours:
                    cursor.execute("SELECT pg_advisory_unlock(%s)", [_SCHEDULE_LOCK])
        return
    path = database_file().with_name("schedule.lock")
    with contextlib.ExitStack() as stack:
        try:
            turn = one_at_a_time(path, say=lambda words: None, longest_s=0)
            stack.enter_context(turn)
            is_ours = True
        except NoTurnError:
            is_ours = False
        yield is_ours
