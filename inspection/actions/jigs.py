"""Jig sheets that are kept with a car."""

from collections.abc import Mapping

from django.db import transaction

from inspection.models import Car, SavedJig
from inventory.actions.audit import Act, record_event


@transaction.atomic
def save_jig(car: Car, typed: Mapping[str, str], *, act: Act) -> SavedJig:
    """
    Keep a jig sheet with a car, as it was typed; those before stay.

    Writes a SavedJig; audits ``car.jig_saved``.
    """
    saved = SavedJig.objects.create(car=car, typed=dict(typed), at=act.at, by=act.by)
    record_event("car.jig_saved", subject=car, act=act)
    return saved
