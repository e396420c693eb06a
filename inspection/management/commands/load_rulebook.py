"""Load a rulebook's file: ``manage.py load_rulebook FILE --by NAME [--publish]``."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from inspection.actions.exchange import import_edition
from inspection.actions.rulebooks import publish_edition
from inspection.management.commands.check_rulebook import read_rulebook_file
from inventory.actions.audit import Act
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.models import Person


class Command(BaseCommand):
    help = "Make a draft edition of a rulebook's file; --publish makes it final."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--by",
            required=True,
            metavar="NAME",
            help="sign-in name of the chief scrutineer who answers for it",
        )
        parser.add_argument(
            "--add-classes",
            action="store_true",
            help="add the classes that the rules speak of and the club does not have",
        )
        parser.add_argument(
            "--publish",
            action="store_true",
            help="publish it at once; nothing in it can be changed afterwards",
        )

    def handle(self, **options: Any) -> None:
        text = read_rulebook_file(options["file"])
        act = Act(by=chief_called(options["by"]), at=timezone.now())
        try:
            with transaction.atomic():
                edition = import_edition(
                    text, adds_classes=options["add_classes"], act=act
                )
                if options["publish"]:
                    edition = publish_edition(edition.pk, act=act)
        except RefusedError as refusal:
            msg = f"{options['file']}: {refusal.sentence}"
            raise CommandError(msg) from refusal
        if edition.is_published:
            self.stdout.write(f"{edition}: published, SHA-256 {edition.sha256}")
        else:
            self.stdout.write(f"{edition}: a draft")


def chief_called(name: str) -> Person:
    """Find the chief scrutineer of that sign-in name."""
    person = Person.objects.active().filter(sign_in_name__iexact=name).first()
    if person is None or not person.may(Ability.WRITE_RULEBOOKS):
        msg = f"“{name}” is not the sign-in name of a chief scrutineer."
        raise CommandError(msg)
    return person
