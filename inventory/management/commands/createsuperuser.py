"""Say how a first admin is made here, to whoever looks for it by Django's name."""

from typing import Any

from django.contrib.auth.management.commands import createsuperuser
from django.core.management.base import CommandError


class Command(createsuperuser.Command):
    help = "Not used here: begin_club prints the address that makes the first admin."

    def execute(self, *args: Any, **options: Any) -> None:
        msg = (
            "There is no superuser here. “manage.py begin_club” prints an address "
            "at which the first person of the club becomes its admin; an admin adds "
            "others on the page People."
        )
        raise CommandError(msg)
