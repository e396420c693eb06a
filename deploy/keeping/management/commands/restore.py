"""Put a backup back into an empty place: ``manage.py restore FILE``."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from deploy.keeping.restoring import restore
from deploy.starting.refusals import StartRefusedError
from inspection.words.seal_checks import differences_words, seals_hold_words


class Command(BaseCommand):
    help = (
        "Put a backup into an empty database, bring it up to date, check every seal. "
        "FEELERBOOK_DATA names a new data folder, or DATABASE_URL a new database."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")

    def handle(self, **options: Any) -> None:
        try:
            restored = restore(options["file"])
        except StartRefusedError as error:
            raise CommandError(str(error)) from error
        except OSError as error:
            msg = f"{options['file']} cannot be read: {error.strerror}."
            raise CommandError(msg) from error
        made = restored.manifest
        self.stdout.write(
            f"{restored.row_count:,} rows are back as they were {made.made_at:%c} UTC, "
            f"by version {made.version}. Everybody signs in again."
        )
        seals = restored.seals
        for line in seals.differences:
            self.stdout.write(line)
        if not seals.holds:
            raise CommandError(
                differences_words(seals.difference_count, seals.seal_count)
            )
        self.stdout.write(seals_hold_words(seals.seal_count))
