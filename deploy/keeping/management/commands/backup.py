"""Make a backup: ``manage.py backup FILE``, while everybody goes on working."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from deploy.keeping.backups import make_backup, note_backup, write_backup
from deploy.keeping.manifest import NoBackupError, Why


class Command(BaseCommand):
    help = (
        "Copy the whole database as it is at one moment, with a manifest, into a ZIP "
        "for its owner alone. Without FILE it goes where backups are kept."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, nargs="?", metavar="FILE")

    def handle(self, **options: Any) -> None:
        at, file = timezone.now(), options["file"]
        try:
            if file is None:
                made = make_backup(Why.ASKED, at=at)
                note_backup(made)
                file, manifest = made.backup.path, made.manifest
                if made.not_there_too:
                    self.stderr.write(made.not_there_too)
            else:
                manifest = write_backup(file, Why.ASKED, at=at)
        except OSError as error:
            msg = f"{file} cannot be written: {error.strerror}."
            raise CommandError(msg) from error
        except NoBackupError as error:
            raise CommandError(str(error)) from error
        rows = sum(manifest.counts.values())
        size = file.stat().st_size
        self.stdout.write(f"{rows:,} rows are in {file}, {size:,} bytes.")
