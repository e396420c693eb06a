"""Checks of the seals: linking the audit rows, and noting what a check found."""

import datetime as dt
from collections.abc import Iterator

from django.db import connection, transaction

from inspection.compute.night import Difference, Occasion, chained_hash
from inspection.files.canonical import canonical_text
from inspection.files.rulebooks import checksum
from inspection.loaders.rulebooks.editions import rulebook_text
from inspection.loaders.seals.held_rows import (
    differences_of_audit,
    differences_of_season,
    night_as_json,
    rows_as_json,
)
from inspection.loaders.seals.held_sheets import UNREADABLE, differences_of_night
from inspection.loaders.seals.one_moment import seen_at_one_moment
from inspection.models import AuditLink, Edition, RaceNight, Seal, SealCheck
from inventory.actions.audit import Act, record_event, record_outside_event
from inventory.models import AuditRow

#: So long the audit rows wait for their link, where no night is closed.
A_DAY = dt.timedelta(hours=23)
MOST_KEPT = 50
_FORMAT = "feelerbook audit 1"


@transaction.atomic
def link_audit_rows(*, at: dt.datetime, night: RaceNight | None = None) -> AuditLink:
    """
    Put the audit rows since the last link, and a night's head, under one hash.

    Writes an AuditLink; audits ``audit.linked``.
    """
    _wait_for_writers()
    last = AuditLink.objects.order_by("-sequence").first()
    after = last.up_to if last else 0
    newest = AuditRow.objects.order_by("-pk").values_list("pk", flat=True).first()
    previous, sequence = (last.sha256, last.sequence + 1) if last else ("", 1)
    content = canonical_text(
        {
            "format": _FORMAT,
            "sequence": sequence,
            "at": at.astimezone(dt.UTC).isoformat(),
            "rows": rows_as_json(after, max(newest or 0, after)),
            "night": night_as_json(night.pk) if night else None,
        }
    )
    link = AuditLink.objects.create(
        sequence=sequence,
        content=content,
        previous_sha256=previous,
        sha256=chained_hash(previous, content),
        at=at,
        night=night,
    )
    record_outside_event("audit.linked", subject=link, at=at, sha256=link.sha256)
    return link


def _wait_for_writers() -> None:
    """
    Let every row that has a number be there before it is counted.

    SQLite has one writer at a time.  Nothing else is held meanwhile, so that
    nobody waits for this who is waited for.
    """
    if connection.vendor != "postgresql":
        return
    tables = ", ".join(model._meta.db_table for model in (AuditRow, AuditLink))
    with connection.cursor() as cursor:
        cursor.execute(f"LOCK TABLE {tables} IN SHARE ROW EXCLUSIVE MODE")


def link_daily(*, at: dt.datetime) -> AuditLink | None:
    """Link the audit rows if the last link is a day old; see ``link_audit_rows``."""
    last = AuditLink.objects.order_by("-sequence").first()
    if last is not None and at - last.at < A_DAY:
        return None
    return link_audit_rows(at=at)


def settle_night(night: RaceNight, *, act: Act) -> SealCheck:
    """
    Do what follows a closing: link the audit rows with the night, check its seals.

    Each of the two is an action of its own; the night is closed whatever they find.
    """
    link_audit_rows(at=act.at, night=night)
    return check_seals(Occasion.CLOSING, at=act.at, act=act, night=night)


def check_seals(
    occasion: Occasion,
    *,
    at: dt.datetime,
    act: Act | None = None,
    night: RaceNight | None = None,
) -> SealCheck:
    """
    Hold all seals, or a night's, against everything that they were put under.

    Reads without holding up anybody, then writes a SealCheck; audits
    ``seals.checked``.
    """
    differences = list(_differences(night))
    seals = Seal.objects.filter(night=night) if night else Seal.objects.all()
    return _note(
        occasion, differences, seal_count=seals.count(), at=at, act=act, night=night
    )


def _differences(night: RaceNight | None) -> Iterator[Difference]:
    nights = [night] if night else RaceNight.objects.order_by("date", "pk")
    for one in nights:
        with seen_at_one_moment():
            yield from differences_of_night(one)
    # Twenty years of audit rows are for the daily run; a closing waits for a person.
    looks = [_editions, differences_of_season]
    looks += [] if night else [differences_of_audit]
    for look in looks:
        with seen_at_one_moment():
            yield from list(look())


def _editions() -> Iterator[Difference]:
    """Hold each published edition by the checksum under which it was published."""
    for edition in Edition.objects.published().select_related("rulebook"):
        try:
            holds = checksum(rulebook_text(edition)) == edition.sha256
            says = "its rules do not give the SHA-256 that it was published under"
        except UNREADABLE as error:
            holds, says = False, f"its rules cannot be read: {error!r}"
        if not holds:
            yield Difference(of=str(edition), says=says)


@transaction.atomic
def _note(
    occasion: Occasion,
    differences: list[Difference],
    *,
    seal_count: int,
    at: dt.datetime,
    act: Act | None,
    night: RaceNight | None,
) -> SealCheck:
    check = SealCheck.objects.create(
        at=at,
        occasion=occasion,
        night=night,
        seal_count=seal_count,
        difference_count=len(differences),
        differences=[str(one) for one in differences[:MOST_KEPT]],
    )
    counts = {"seals": seal_count, "differences": len(differences)}
    if act is None:
        record_outside_event("seals.checked", subject=check, at=at, **counts)
    else:
        record_event("seals.checked", subject=check, act=act, **counts)
    return check
