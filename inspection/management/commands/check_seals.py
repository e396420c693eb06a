"""Check every seal: ``manage.py check_seals [--head HASH COUNT]``; exit 1 if not."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inspection.actions.seal_checks import check_seals, link_daily
from inspection.compute.night import Occasion
from inspection.loaders.seals.heads import Head, look_for
from inspection.words.seal_checks import differences_words, seals_hold_words

_OCCASIONS = {
    "start": Occasion.START,
    "day": Occasion.DAILY,
    "restore": Occasion.RESTORED,
}


class Command(BaseCommand):
    help = (
        "Hold every seal, and what it was put under, against what is in the database; "
        "name what differs, and of which sheet. FEELERBOOK_DATA names the data folder."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--head",
            nargs=2,
            action="append",
            default=[],
            metavar=("HASH", "COUNT"),
            help="a head as printed at a closing: is what was sealed then in what is "
            "here now? May be given several times.",
        )
        parser.add_argument(
            "--after",
            choices=list(_OCCASIONS),
            help="what it is run after, noted with the result: a start, a day, "
            "a restore; by hand unless given",
        )

    def handle(self, **options: Any) -> None:
        heads = [head_typed(*words) for words in options["head"]]
        at = timezone.now()
        occasion = _OCCASIONS.get(options["after"] or "", Occasion.ASKED)
        check = check_seals(occasion, at=at)
        link_daily(at=at)
        lines = list(check.differences)
        for head in heads:
            says, differences = look_for(head)
            lines += [str(one) for one in differences]
            if says:
                self.stdout.write(says)
        for line in lines:
            self.stdout.write(line)
        count = check.difference_count + len(lines) - len(check.differences)
        if count:
            raise CommandError(differences_words(count, check.seal_count))
        self.stdout.write(seals_hold_words(check.seal_count))


def head_typed(sha256: str, count: str) -> Head:
    """Read a head as it stands on a printed list."""
    digits = sha256.strip().lower()
    if len(digits) != 64 or not set(digits) <= set("0123456789abcdef"):
        msg = f"--head: “{sha256}” is not 64 digits and letters a to f."
        raise CommandError(msg)
    if not count.isdecimal():
        msg = f"--head: “{count}” is not a whole number; the count stands behind it."
        raise CommandError(msg)
    return Head(sha256=digits, count=int(count))
