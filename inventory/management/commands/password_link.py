"""
Print a link to a new password: ``manage.py password_link NAME``.

``--without-second-factor`` takes that away as well, for who has lost phone and codes.
"""

import io
from argparse import ArgumentParser
from typing import Any

import segno
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from inventory.actions.people.links import make_password_link_by_command
from inventory.actions.people.second_factor import take_second_factor_by_command
from inventory.actions.refusals import RefusedError
from inventory.loaders.people import person_signing_in_as
from inventory.management.commands.begin_club import usual_address


class Command(BaseCommand):
    help = "Print a link at which a person chooses a new password; once, 10 minutes."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="what the person signs in with")
        parser.add_argument(
            "--address",
            metavar="URL",
            default=usual_address(),
            help="where this installation is reached; %(default)s unless given",
        )

        parser.add_argument(
            "--without-second-factor",
            action="store_true",
            help="take the second factor away: phone and recovery codes are lost",
        )

    def handle(self, **options: Any) -> None:
        person = person_signing_in_as(options["name"])
        if person is None:
            msg = f"Nobody signs in as “{options['name']}”."
            raise CommandError(msg)
        now = timezone.now()
        try:
            with transaction.atomic():
                handed = make_password_link_by_command(person, at=now)
                if options["without_second_factor"]:
                    take_second_factor_by_command(person, at=now)
        except RefusedError as refusal:
            raise CommandError(refusal.sentence) from refusal
        base = options["address"].rstrip("/")
        address = f"{base}{reverse('inventory:link', args=[handed.code])}"
        code_text = io.StringIO()
        segno.make(address).terminal(out=code_text, compact=True)
        self.stdout.write(code_text.getvalue())
        self.stdout.write(f"A new password for {person}: {address}")
        self.stdout.write("Good for 10 minutes, and once.")
