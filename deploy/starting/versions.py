"""
Code that is older than its database does not touch it.

The database knows which migrations made its tables, and an audit row says which
version of Feelerbook brought them up to date last.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations import Migration
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from deploy.starting.refusals import OlderCodeError
from inventory.models import AuditRow

Key = tuple[str, str]
UPGRADED = "database.upgraded"


def unknown_migrations(
    applied: Iterable[Key], here: Mapping[Key, Migration]
) -> list[Key]:
    """Return what was done to a database that this code knows nothing of."""
    known = set(here)
    for migration in here.values():
        known.update(migration.replaces)
    return sorted(set(applied) - known)


def refuse_older_code(connection: BaseDatabaseWrapper) -> None:
    """Raise OlderCodeError if the database was made by a newer version."""
    applied = MigrationRecorder(connection).applied_migrations()
    loader = MigrationLoader(None, load=False)
    loader.load_disk()
    unknown = unknown_migrations(applied, loader.disk_migrations)
    if not unknown:
        return
    needed = last_to_upgrade() or "a newer version"
    app, name = unknown[0]
    msg = (
        f"This is Feelerbook {settings.VERSION}, and its database was brought up to "
        f"date by {needed}, which knows more of it (first {app} {name}). Start that "
        "version or a later one, or restore a backup from before."
    )
    raise OlderCodeError(msg)


def last_to_upgrade() -> str | None:
    """Say which version knew all of the database last, if one has noted it."""
    rows = AuditRow.objects.filter(event=UPGRADED).order_by("-id")
    return rows.values_list("subject", flat=True).first()


def check_age(
    app_configs: object, databases: Iterable[str] | None = None, **kwargs: Any
) -> list[CheckMessage]:
    """Tell every command that looks at the database, ``migrate`` first of all."""
    messages: list[CheckMessage] = []
    for alias in databases or ():
        try:
            refuse_older_code(connections[alias])
        except OlderCodeError as error:
            messages.append(Error(str(error), id="starting.E001"))
    return messages
