"""Putting a backup back, into an empty place and nowhere else."""

import datetime as dt
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from deploy.keeping.backups import blocks_of, opened
from deploy.keeping.copies import NAMES, is_place_empty, put_copy
from deploy.keeping.manifest import Manifest, NoBackupError
from deploy.starting.upgrading import upgrade
from deploy.starting.versions import unknown_migrations
from inspection.actions.seal_checks import check_seals
from inspection.compute.night import Occasion
from inspection.models import SealCheck
from inventory.actions.audit import record_outside_event
from inventory.models import HandedLink, OpenSession

RESTORED = "backup.restored"


@dataclass(frozen=True, kw_only=True)
class Restored:
    """What was put back, and what the check of its seals found."""

    manifest: Manifest
    seals: SealCheck

    @property
    def row_count(self) -> int:
        return sum(self.manifest.counts.values())


def restore(file: Path) -> Restored:
    """
    Make the empty database in use what a backup holds, and bring it up to date.

    Everybody signs in again, and links that were handed out open nothing: what was
    ended after the backup must not begin anew with it.  Raises NoBackupError with
    nothing changed, but for counts that differ, which are found only afterwards.
    """
    if not is_place_empty():
        msg = (
            f"{connection.settings_dict['NAME']} is not empty. A backup is put back "
            "into a new data folder or a new database alone: name one."
        )
        raise NoBackupError(msg)
    with opened(file) as (manifest, inside):
        refuse_other_kind(manifest)
        with tempfile.TemporaryDirectory(prefix="feelerbook-") as work:
            copy = Path(work) / NAMES[manifest.engine]
            with copy.open("wb") as out:
                out.writelines(blocks_of(inside, manifest))
            counts = put_copy(copy)
    refuse_other_counts(manifest.counts, counts)
    at = timezone.now()
    upgrade(with_backup=False)
    OpenSession.objects.all().delete()
    end_links(at)
    note(manifest, file, at=at)
    return Restored(manifest=manifest, seals=check_seals(Occasion.RESTORED, at=at))


def refuse_other_kind(manifest: Manifest) -> None:
    """Raise NoBackupError for another kind of database, or a newer version's."""
    if manifest.engine != connection.vendor:
        msg = (
            f"The backup is of {manifest.engine}, this place is {connection.vendor}. "
            "From one to the other a club moves by take_out_club and bring_in_archive."
        )
        raise NoBackupError(msg)
    loader = MigrationLoader(None, load=False)
    loader.load_disk()
    names = [tuple(name.split(".", 1)) for name in manifest.migrations]
    done = [(app, name) for app, name in names]
    if unknown_migrations(done, loader.disk_migrations):
        msg = (
            f"The backup is by a newer version, {manifest.version}: put it back with "
            "that version or a later one."
        )
        raise NoBackupError(msg)


def refuse_other_counts(backed_up: Mapping[str, int], came: Mapping[str, int]) -> None:
    other = [
        f"{table}: {backed_up.get(table, 0)} rows were backed up, "
        f"{came.get(table, 0)} came"
        for table in sorted({*backed_up, *came})
        if backed_up.get(table) != came.get(table)
    ]
    if other:
        msg = "Not all came back. " + "; ".join(other) + ". Do not use this place."
        raise NoBackupError(msg)


def end_links(at: dt.datetime) -> None:
    """Withdraw every link that was not used: it may have been since."""
    waiting = HandedLink.objects.filter(used_at=None, withdrawn_at=None)
    waiting.update(withdrawn_at=at)


def note(manifest: Manifest, file: Path, *, at: dt.datetime) -> None:
    record_outside_event(
        RESTORED,
        subject=file.name,
        at=at,
        made_at=manifest.made_at.isoformat(),
        version=manifest.version,
        sha256=manifest.sha256,
    )
