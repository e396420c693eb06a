"""Who acts on a page, and when."""

from django.http import HttpRequest
from django.utils import timezone

from inventory.access import signed_in
from inventory.actions.audit import Act


def act_of(request: HttpRequest) -> Act:
    """Say who acts, now."""
    return Act(by=signed_in(request), at=timezone.now())
