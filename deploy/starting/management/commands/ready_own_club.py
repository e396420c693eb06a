"""Ready the club in use and print the code that begins it; run by the page alone."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from deploy.starting.refusals import StartRefusedError
from deploy.starting.upgrading import one_upgrade_at_a_time, upgrade
from inventory.actions.people.beginning import make_beginning
from inventory.actions.refusals import RefusedError


class Command(BaseCommand):
    help = "Bring the tables of the own club up to date; print the code to begin it."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with one_upgrade_at_a_time(say=self.stderr.write):
                upgrade()
        except StartRefusedError as error:
            raise CommandError(str(error)) from error
        try:
            self.stdout.write(make_beginning(at=timezone.now()))
        except RefusedError:
            # It has people, who sign in.
            return
