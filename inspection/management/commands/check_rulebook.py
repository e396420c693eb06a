"""Check a rulebook's file: ``manage.py check_rulebook FILE``; writes nothing."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inspection.compute.rulebooks import RulebookText
from inspection.files.rulebooks import (
    LARGEST_FILE,
    RulebookFileError,
    checksum,
    read_rulebook,
)


class Command(BaseCommand):
    help = (
        "Read a rulebook's file strictly; name the place that is wrong, or its SHA-256."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, **options: Any) -> None:
        text = read_rulebook_file(options["file"])
        self.stdout.write(
            f"{text.rulebook}, edition {text.edition}: {len(text.rules)} rules, "
            f"{text.decision_rule}"
        )
        self.stdout.write(f"SHA-256 {checksum(text)}")


def read_rulebook_file(path: Path) -> RulebookText:
    """Read a file for a command; CommandError names the file and the place."""
    try:
        with path.open("rb") as file:
            # One byte more than is read at most: too large shows without it all.
            return read_rulebook(file.read(LARGEST_FILE + 1))
    except OSError as error:
        msg = f"{path}: {error.strerror}."
        raise CommandError(msg) from error
    except RulebookFileError as error:
        msg = f"{path}: {error}"
        raise CommandError(msg) from error
