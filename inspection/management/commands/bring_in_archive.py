"""Bring a whole club into an empty database: ``manage.py bring_in_archive FILE``."""

import getpass
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inspection.actions.moving.bringing_in import (
    FirstIn,
    bring_in_club,
    open_archive,
    refuse_unless_empty,
)
from inspection.actions.seal_checks import check_seals
from inspection.compute.night import Occasion
from inspection.words.seal_checks import differences_words, seals_hold_words
from inventory.actions.refusals import RefusedError
from inventory.models import Person


class Command(BaseCommand):
    help = (
        "Bring in a club that was taken out elsewhere, all of it or nothing. The "
        "database must be empty; FEELERBOOK_DATA names the data folder. The password "
        "of the admin is asked for, or read from a line that is piped in."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument(
            "--admin",
            required=True,
            metavar="SIGN-IN-NAME",
            help="an admin of the club in the archive, who comes in first",
        )

    def handle(self, **options: Any) -> None:
        name = options["admin"]
        try:
            refuse_unless_empty()
            with options["file"].open("rb") as file:
                archive = open_archive(file)
                first = FirstIn(sign_in_name=name, password=_password(name))
                brought = bring_in_club(archive, first, at=timezone.now())
        except RefusedError as refusal:
            raise CommandError(refusal.sentence) from refusal
        except OSError as error:
            msg = f"{options['file']} cannot be read: {error.strerror}."
            raise CommandError(msg) from error
        check = check_seals(Occasion.RESTORED, at=timezone.now())
        self.stdout.write(
            f"{brought.club or 'The club'} is in: {brought.row_count:,} rows."
        )
        for line in check.differences:
            self.stdout.write(line)
        if not check.holds:
            raise CommandError(
                differences_words(check.difference_count, check.seal_count)
            )
        holds = seals_hold_words(check.seal_count)
        self.stdout.write(f"{holds} Sign in as {name}.")


def _password(name: str) -> str:
    if sys.stdin.isatty():
        password = getpass.getpass(f"New password of {name}: ")
    else:
        password = sys.stdin.readline().rstrip("\n")
    try:
        validate_password(password, Person(sign_in_name=name))
    except ValidationError as error:
        raise CommandError(" ".join(error.messages)) from error
    return password
