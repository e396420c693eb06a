"""Take the whole club out as one archive: ``manage.py take_out_club FILE``."""

import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inspection.actions.moving.taking_out import take_out_club


class Command(BaseCommand):
    help = (
        "Write the whole club into a ZIP: CSV tables described by a data package, and "
        "what each seal signs as JSON. FEELERBOOK_DATA names the data folder."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")

    def handle(self, **options: Any) -> None:
        at, file = timezone.now(), options["file"]
        half = file.with_name(f"{file.name}.part")
        try:
            # Only its owner may read it, and an older one stays until it is whole.
            with open(half, "wb", opener=_for_its_owner) as out:
                out.writelines(take_out_club(at=at))
            half.replace(file)
        except OSError as error:
            half.unlink(missing_ok=True)
            msg = f"{file} cannot be written: {error.strerror}."
            raise CommandError(msg) from error
        self.stdout.write(f"The club is in {file}, {file.stat().st_size:,} bytes.")


def _for_its_owner(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)
