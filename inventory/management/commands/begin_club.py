"""Print the address that begins a club: ``manage.py begin_club``."""

import io
from argparse import ArgumentParser
from typing import Any

import segno
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse
from django.utils import timezone

from inventory.actions.people.beginning import make_beginning
from inventory.actions.refusals import RefusedError


class Command(BaseCommand):
    help = "Print the address at which the first person of a club becomes its admin."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--address",
            metavar="URL",
            default=usual_address(),
            help="where this installation is reached; %(default)s unless given",
        )

    def handle(self, **options: Any) -> None:
        try:
            code = make_beginning(at=timezone.now())
        except RefusedError as refusal:
            raise CommandError(refusal.sentence) from refusal
        base = options["address"].rstrip("/")
        address = f"{base}{reverse('inventory:begin', args=[code])}"
        code_text = io.StringIO()
        segno.make(address).terminal(out=code_text, compact=True)
        self.stdout.write(code_text.getvalue())
        self.stdout.write(f"Begin your club: {address}")
        self.stdout.write("Good for 24 hours, and once.")


def usual_address() -> str:
    """Say where this installation is reached, as far as its settings tell."""
    if settings.SECURE_SSL_REDIRECT:
        return f"https://{settings.ALLOWED_HOSTS[0]}/"
    return "http://127.0.0.1:8000/"
