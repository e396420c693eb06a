"""Load the demo club into an empty database: ``manage.py load_demo``."""

import os
import secrets
from argparse import ArgumentParser
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from deploy.demo.club import play_club
from deploy.demo.people import PEOPLE
from inventory.compute.stock import ALPHABET
from inventory.models import Person

GROUPS: Final = 4
SIGNS_A_GROUP: Final = 4


class Command(BaseCommand):
    help = "Fill an empty database with an invented club; never on a shared server."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--password-file",
            type=Path,
            metavar="FILE",
            help="the demo's password, one line; made and written when there is none",
        )

    def handle(self, **options: Any) -> None:
        accounts_file = _accounts_file()
        with transaction.atomic():
            if Person.objects.exists():
                msg = "There are people already; the demo goes into an empty database."
                raise CommandError(msg)
            password = password_from(options["password_file"])
            play_club(now=timezone.now(), password=password)
            _write_private(accounts_file, accounts_text(password))
        self.stdout.write(f"The demo club is loaded; its accounts: {accounts_file}")


def accounts_text(password: str) -> str:
    """Say who can sign in, with which roles, and the password of all."""
    lines = [
        f"  {one.sign_in_name:<10} {', '.join(one.roles)}"
        for one in PEOPLE
        if one.has_password
    ]
    return "\n".join([f"Demo club; password of all: {password}", *lines, ""])


def _accounts_file() -> Path:
    file = settings.DEMO_FILE
    if settings.INSTALLATION == "shared" or file is None:
        msg = "A shared server has no demo accounts: their password is known."
        raise CommandError(msg)
    return Path(file)


def password_from(file: Path | None) -> str:
    """Read the password, or make one and keep it in the file that was named."""
    if file is not None and file.exists():
        return _checked(file.read_text(encoding="utf-8").strip(), file)
    groups = (
        "".join(secrets.choice(ALPHABET.lower()) for _ in range(SIGNS_A_GROUP))
        for _ in range(GROUPS)
    )
    password = "-".join(groups)
    if file is not None:
        _write_private(file, f"{password}\n")
    return password


def _checked(password: str, file: Path) -> str:
    try:
        validate_password(password)
    except ValidationError as error:
        msg = f"{file}: {' '.join(error.messages)}"
        raise CommandError(msg) from error
    if len(password.splitlines()) > 1:
        msg = f"{file}: one line is expected, the password."
        raise CommandError(msg)
    return password


def _write_private(file: Path, text: str) -> None:
    """Write a file that only its owner can read, whatever stood there before."""
    file.unlink(missing_ok=True)
    handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as opened:
        opened.write(text)
