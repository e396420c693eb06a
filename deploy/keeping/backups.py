"""
Making backups and keeping them: each one ZIP, for its owner's eyes alone.

A backup is whole or not there: it is written under another name, read once more
against its own manifest, and then given its name.
"""

import datetime as dt
import hashlib
import os
import re
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from django.conf import settings
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from deploy.keeping.copies import NAMES, database_file, engine_version, take_copy
from deploy.keeping.manifest import Manifest, NoBackupError, Why, read_manifest
from deploy.keeping.thinning import kept
from inventory.actions.audit import record_outside_event

MADE = "backup.made"
MANIFEST = "manifest.json"
_STAMP = "%Y%m%dT%H%M%SZ"
_NAME = re.compile(r"(?P<club>[\w.-]+?)-(?P<at>\d{8}T\d{6}Z)-(?P<why>[a-z]+)\.zip")
_BLOCK = 1 << 20
_OWNER_ONLY_FOLDER, _OWNER_ONLY_FILE = 0o700, 0o600


@dataclass(frozen=True, kw_only=True, order=True)
class Backup:
    """One that is kept; its name says when it was made and why."""

    at: dt.datetime
    why: Why
    path: Path

    @property
    def size(self) -> int:
        """Bytes on the disk."""
        return self.path.stat().st_size


@dataclass(frozen=True, kw_only=True)
class Made:
    """A backup that was just made, and why the second folder has none, if so."""

    backup: Backup
    manifest: Manifest
    not_there_too: str = ""


def folder() -> Path:
    """Return where backups are kept; raises NoBackupError where none is set."""
    chosen: Path | None = settings.BACKUP_FOLDER
    if chosen is None:
        msg = "No folder for backups is set: give FEELERBOOK_BACKUPS one."
        raise NoBackupError(msg)
    return chosen


def club_word() -> str:
    """Return what the names of this database's backups begin with."""
    if connection.vendor == "sqlite":
        return database_file().stem
    return re.sub(r"[^\w.-]", "_", connection.settings_dict["NAME"])


def backups_in(place: Path) -> list[Backup]:
    """Return the backups of this database in a folder, the newest first."""
    matches = (_NAME.fullmatch(path.name) for path in place.glob("*.zip"))
    return sorted(
        (
            Backup(
                at=dt.datetime.strptime(one["at"], _STAMP).replace(tzinfo=dt.UTC),
                why=Why(one["why"]),
                path=place / one[0],
            )
            for one in matches
            if one and one["club"] == club_word() and one["why"] in set(Why)
        ),
        reverse=True,
    )


def make_backup(why: Why, *, at: dt.datetime) -> Made:
    """
    Make one in the folder, copy it to the second if one is set, thin both out.

    Writes nothing into the database: see ``note_backup``.  Raises NoBackupError
    where none could be made; a second folder that is away is only said.
    """
    place = folder()
    name = f"{club_word()}-{at.astimezone(dt.UTC):{_STAMP}}-{why}.zip"
    try:
        place.mkdir(mode=_OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
        manifest = write_backup(place / name, why, at=at)
    except OSError as error:
        msg = f"No backup could be written to {place}: {error.strerror or error}."
        raise NoBackupError(msg) from error
    thin_out(place)
    backup = Backup(at=at.replace(microsecond=0), why=why, path=place / name)
    not_there = copy_to_second(place / name)
    return Made(backup=backup, manifest=manifest, not_there_too=not_there)


def note_backup(made: Made) -> None:
    """Audit ``backup.made``: when, why, and under which digest."""
    record_outside_event(
        MADE,
        subject=made.backup.path.name,
        at=made.manifest.made_at,
        why=made.manifest.why,
        sha256=made.manifest.sha256,
        second_folder=made.not_there_too or "as set",
    )


def write_backup(file: Path, why: Why, *, at: dt.datetime) -> Manifest:
    """Write a backup to a file that is there whole or not at all."""
    half = file.with_name(f".{file.name}.part")
    with tempfile.TemporaryDirectory(dir=file.parent, prefix=".backup-") as work:
        copy = Path(work) / NAMES[connection.vendor]
        counts = take_copy(copy)
        manifest = Manifest(
            made_at=at,
            why=why,
            version=settings.VERSION,
            engine=connection.vendor,
            engine_version=engine_version(),
            migrations=applied_names(),
            counts=counts,
            size=copy.stat().st_size,
            sha256=digest_of(copy),
        )
        try:
            with open(half, "wb", opener=for_its_owner) as out:
                pack(out, copy, manifest)
                out.flush()
                os.fsync(out.fileno())
            with opened(half) as (_, inside):
                check_digest(inside, manifest)
            half.replace(file)
        finally:
            half.unlink(missing_ok=True)
    return manifest


def applied_names() -> tuple[str, ...]:
    done = MigrationRecorder(connection).applied_migrations()
    return tuple(sorted(f"{app}.{name}" for app, name in done))


def pack(out: IO[bytes], copy: Path, manifest: Manifest) -> None:
    # PostgreSQL's own format is packed already.
    is_packed = copy.suffix == ".dump"
    how = zipfile.ZIP_STORED if is_packed else zipfile.ZIP_DEFLATED
    with zipfile.ZipFile(out, "w", how, compresslevel=None if is_packed else 1) as file:
        file.writestr(MANIFEST, manifest.as_json())
        file.write(copy, copy.name)


class opened:  # noqa: N801  reads as what it does
    """Open a backup: ``with opened(path) as (manifest, copy inside)``."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __enter__(self) -> tuple[Manifest, IO[bytes]]:
        try:
            self.file = zipfile.ZipFile(self.path)
            manifest = read_manifest(self.file.read(MANIFEST))
            self.inside = self.file.open(NAMES[manifest.engine])
        except (zipfile.BadZipFile, KeyError) as error:
            msg = f"{self.path} is no backup of Feelerbook, or not whole."
            raise NoBackupError(msg) from error
        return manifest, self.inside

    def __exit__(self, *error: object) -> None:
        self.inside.close()
        self.file.close()


def blocks_of(inside: IO[bytes], manifest: Manifest) -> Iterator[bytes]:
    """Yield the copy; raises NoBackupError at its end if it is another."""
    digest, size = hashlib.sha256(), 0
    try:
        while size <= manifest.size and (block := inside.read(_BLOCK)):
            digest.update(block)
            size += len(block)
            yield block
    except (zipfile.BadZipFile, EOFError, OSError) as error:
        msg = f"The backup cannot be read to its end: {error}."
        raise NoBackupError(msg) from error
    if (size, digest.hexdigest()) != (manifest.size, manifest.sha256):
        msg = "What is in the backup is not what its manifest says."
        raise NoBackupError(msg)


def check_digest(inside: IO[bytes], manifest: Manifest) -> None:
    for _ in blocks_of(inside, manifest):
        pass


def digest_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def for_its_owner(path: str, flags: int) -> int:
    return os.open(path, flags, _OWNER_ONLY_FILE)


def copy_to_second(backup: Path) -> str:
    """Copy a backup to the second folder, and read it there; say why not."""
    second: Path | None = settings.BACKUP_FOLDER_TOO
    if second is None:
        return ""
    if not second.is_dir():
        return f"{second} is not there; is the stick in?"
    half = second / f".{backup.name}.part"
    try:
        shutil.copyfile(backup, half)
        if digest_of(half) != digest_of(backup):
            return f"{second} gives back something else than was written to it."
        half.replace(second / backup.name)
        thin_out(second)
    except OSError as error:
        return f"{second} cannot be written: {error.strerror or error}."
    finally:
        if second.is_dir():
            half.unlink(missing_ok=True)
    return ""


def thin_out(place: Path) -> None:
    """Remove what is neither new nor the last of a day or a month."""
    here = backups_in(place)
    stay = kept((one.at, one.why) for one in here)
    for one in here:
        if (one.at, one.why) not in stay:
            one.path.unlink(missing_ok=True)
