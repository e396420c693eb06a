"""Bringing the tables up to date, one process at a time, and noting the version."""

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import cast

from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from deploy.keeping.backups import make_backup, note_backup
from deploy.keeping.manifest import Why
from deploy.settings.patient_connection import PatientConnection
from deploy.starting.data_folder import LOCK
from deploy.starting.turns import one_at_a_time
from deploy.starting.versions import UPGRADED, last_to_upgrade, refuse_older_code
from inventory.actions.audit import record_outside_event
from inventory.models import OpenSession

# A number of this program's own among PostgreSQL's advisory locks.
UPGRADE_LOCK = 0x6665656C6572


def upgrade(*, with_backup: bool = True) -> None:
    """
    Migrate and note it, unless the code is the older one; clean sessions away.

    Before the tables of a club are changed a backup is made, where a folder is set
    for it; if none can be made, nothing is changed.
    """
    refuse_older_code(connection)
    before = applied()
    made = None
    if before and with_backup and settings.BACKUP_FOLDER is not None and is_behind():
        made = make_backup(Why.UPGRADE, at=timezone.now())
    call_command("migrate", interactive=False, verbosity=0)
    new = sorted(applied() - before)
    # Who made the tables of a club that nobody had begun is noted at the next start.
    this = f"Feelerbook {settings.VERSION}"
    if new or last_to_upgrade() != this:
        record_outside_event(
            UPGRADED,
            subject=this,
            at=timezone.now(),
            migrations=[f"{app} {name}" for app, name in new],
        )
    if made is not None:
        # Only now has the audit the columns that this code writes.
        note_backup(made)
    OpenSession.objects.filter(expire_date__lt=timezone.now()).delete()


def is_behind() -> bool:
    """Tell whether a migration waits."""
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def applied() -> set[tuple[str, str]]:
    return set(MigrationRecorder(connection).applied_migrations())


@contextlib.contextmanager
def one_upgrade_at_a_time(*, say: Callable[[str], object]) -> Iterator[None]:
    """Let another machine, or another start, end what it is at."""
    if connection.vendor == "postgresql":
        with advisory_lock():
            yield
        return
    path = Path(str(connection.settings_dict["NAME"])).with_name(LOCK)
    with one_at_a_time(path, say=say):
        yield


@contextlib.contextmanager
def advisory_lock() -> Iterator[None]:
    """Wait for the lock, and for large tables, longer than a page may."""
    with connection.cursor() as cursor:
        line = cast("PatientConnection", connection.connection)
        patience, line.longest_s = line.longest_s, None
        cursor.execute("SET statement_timeout = 0; SET lock_timeout = 0")
        cursor.execute("SELECT pg_advisory_lock(%s)", [UPGRADE_LOCK])
        try:
            yield
        finally:
            cursor.execute("SELECT pg_advisory_unlock(%s)", [UPGRADE_LOCK])
            cursor.execute("RESET statement_timeout; RESET lock_timeout")
            line.longest_s = patience
