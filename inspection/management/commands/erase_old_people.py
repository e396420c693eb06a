"""Erase people who do not come any more: ``manage.py erase_old_people``."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inspection.actions.people.old_people import erase_by_itself, erase_old_people


class Command(BaseCommand):
    help = "Erase people whom the club has kept for as long as its settings say."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--by-itself",
            action="store_true",
            help="for a timer: erase nobody where the club was not used for a month",
        )

    def handle(self, *, by_itself: bool, **options: Any) -> None:
        erase = erase_by_itself if by_itself else erase_old_people
        erased = erase(at=timezone.now())
        self.stdout.write(f"{erased} erased.")
