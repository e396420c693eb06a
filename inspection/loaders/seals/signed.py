"""Who signed a sheet, when and how, as the seal's own content says it."""

import datetime as dt
import json
from dataclasses import dataclass
from typing import Any

from inspection.compute.night import Decision, Difference
from inspection.loaders.seals.held_sheets import UNREADABLE, differences_of_sheet
from inspection.loaders.seals.one_moment import seen_at_one_moment
from inspection.models import RaceNight, Seal, SealCheck
from inventory.models import Person


@dataclass(frozen=True, kw_only=True)
class Signed:
    """A signature off a seal's content, with what does not hold of it."""

    decision: Decision
    at: dt.datetime
    by: Person | None
    is_own_car: bool
    differences: tuple[Difference, ...]


@dataclass(frozen=True, kw_only=True)
class Unreadable:
    """A seal whose content is no signature any more."""

    differences: tuple[Difference, ...]


def load_signed(seal: Seal) -> Signed | Unreadable:
    """Read a seal's content and hold it against its sheet's rows."""
    with seen_at_one_moment():
        differences = tuple(differences_of_sheet(seal))
        try:
            content = json.loads(seal.content)
            return _signed(content, differences)
        except UNREADABLE:
            return Unreadable(differences=differences)


def _signed(content: dict[str, Any], differences: tuple[Difference, ...]) -> Signed:
    return Signed(
        decision=Decision(content["decision"]),
        at=dt.datetime.fromisoformat(content["sealed_at"]),
        by=Person.objects.filter(pk=int(content["sealed_by"]["id"])).first(),
        is_own_car=bool(content["own_car"]),
        differences=differences,
    )


def last_check(night: RaceNight | None = None) -> SealCheck | None:
    """Give the last check that a night's seals were in; of all, if no night is said."""
    checks = SealCheck.objects.filter(night=None)
    if night is not None:
        checks = checks | SealCheck.objects.filter(night=night)
    return checks.order_by("-at", "-pk").first()
