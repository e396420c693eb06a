"""Bring the tables up to date; what a server does before it starts."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from deploy.starting.refusals import StartRefusedError
from deploy.starting.upgrading import one_upgrade_at_a_time, upgrade
from deploy.starting.versions import refuse_older_code


class Command(BaseCommand):
    help = "Bring the tables up to date, unless the database is newer than this code."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--only-check", action="store_true", help="change nothing; refuse, or not"
        )
        parser.add_argument(
            "--without-backup",
            action="store_true",
            help="change the tables though no backup can be made",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["only_check"]:
                refuse_older_code(connection)
                return
            with one_upgrade_at_a_time(say=self.stderr.write):
                upgrade(with_backup=not options["without_backup"])
        except StartRefusedError as error:
            raise CommandError(str(error), returncode=3) from error
