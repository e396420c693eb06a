"""Signing in by a code from one's own phone, to take over a device in the hall."""

from django.contrib.auth.backends import BaseBackend
from django.http import HttpRequest
from django.utils import timezone

from inventory.actions.people.sign_in import use_take_over_code
from inventory.models import Person


class TakeOverCodes(BaseBackend):
    """
    Know somebody by a code that they made on a page where they are signed in.

    A wrong code counts as a wrong password does, and brings the same wait.
    """

    def authenticate(  # type: ignore[override]  # only for these credentials
        self,
        request: HttpRequest | None,
        username: str | None = None,
        secret_code: str | None = None,
    ) -> Person | None:
        person = Person.objects.active().filter(sign_in_name=username).first()
        if person is None or not secret_code:
            return None
        is_theirs = use_take_over_code(person, secret_code, at=timezone.now())
        return person if is_theirs else None
