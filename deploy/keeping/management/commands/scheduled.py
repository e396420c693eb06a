"""What a timer starts on every machine, and one of them does: ``backup``, ``seals``."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from deploy.keeping.manifest import NoBackupError
from deploy.keeping.scheduled import back_up_if_due, check_seals_if_due


class Command(BaseCommand):
    help = "Make a backup, or check the seals, if it is due and nobody else is at it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("work", choices=["backup", "seals"])

    def handle(self, **options: Any) -> None:
        at = timezone.now()
        if options["work"] == "seals":
            check_seals_if_due(at=at)
            return
        try:
            made = back_up_if_due(at=at)
        except NoBackupError as error:
            raise CommandError(str(error)) from error
        if made is not None and made.not_there_too:
            raise CommandError(made.not_there_too)
