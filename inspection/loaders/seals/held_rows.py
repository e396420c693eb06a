"""What hangs on no single seal: audit rows with their chain, loose findings."""

import hashlib
import json
from collections.abc import Iterable, Iterator

from django.db.models import F

from inspection.compute.night import Difference, Link, link_holds
from inspection.loaders.seals.held_sheets import UNREADABLE
from inspection.models import AuditLink, Finding, Seal
from inventory.files.audit_rows import AuditEntry, entry_hash
from inventory.models import AuditRow

SEALED = "sheet.sealed"
_AT_ONCE = 2000


def differences_of_season() -> Iterator[Difference]:
    """Find findings and seals, which the season counts, that hang on nothing."""
    loose = Finding.objects.filter(sheet__seal=None).order_by("sheet")
    numbers = loose.values_list("sheet__number", flat=True).distinct()
    for number in numbers:
        yield Difference(of=number, says="it has findings and no seal")
    moved = Seal.objects.exclude(night=F("sheet__entry__night")).order_by("pk")
    for number in moved.values_list("sheet__number", flat=True):
        yield Difference(of=number, says="its seal stands in another night's chain")


def differences_of_audit() -> Iterator[Difference]:
    """Hold each audit row by its hash, and all of them by their chain."""
    yield from _rows_by_hash()
    yield from _seals_by_rows()
    yield from _links()


def row_hash(row: AuditRow) -> bytes:
    """Give the hash of what a row says now."""
    return entry_hash(
        AuditEntry(
            at=row.at,
            by=row.actor_id,
            event=row.event,
            subject=row.subject,
            detail=row.detail,
        )
    )


def _rows_by_hash() -> Iterator[Difference]:
    last = 0
    while keys := list(
        AuditRow.objects.filter(pk__gt=last)
        .order_by("pk")
        .values_list("pk", flat=True)[:_AT_ONCE]
    ):
        last = keys[-1]
        yield from _changed_rows(keys)


def _changed_rows(keys: list[int]) -> Iterator[Difference]:
    try:
        rows = list(AuditRow.objects.filter(pk__in=keys).order_by("pk"))
        changed = [
            row
            for row in rows
            if row.sha256 is not None and bytes(row.sha256) != row_hash(row)
        ]
    except UNREADABLE as error:
        if len(keys) == 1:
            of = f"audit row {keys[0]}"
            yield Difference(of=of, says=f"it cannot be read: {error!r}")
            return
        middle = len(keys) // 2
        yield from _changed_rows(keys[:middle])
        yield from _changed_rows(keys[middle:])
        return
    for row in changed:
        yield Difference(of=f"audit row {row.pk}", says=f"{row.event} was changed")


def _seals_by_rows() -> Iterator[Difference]:
    """Find seals that the audit does not know, and rows whose seal is gone."""
    noted: set[tuple[str, str]] = set()
    rows = AuditRow.objects.filter(event=SEALED).values_list("subject", "detail")
    for subject, detail in rows.iterator(_AT_ONCE):
        noted.add((subject, str(detail.get("sha256"))))
    seals = Seal.objects.order_by().values_list("sheet__number", "sha256")
    stored = set(seals.iterator(_AT_ONCE))
    for number, _ in sorted(noted - stored):
        yield Difference(of=number, says="it was sealed, and that seal is gone")
    for number, _ in sorted(stored - noted):
        yield Difference(of=number, says="its seal is in no audit row")


def _links() -> Iterator[Difference]:
    sequence, previous, after = 0, "", 0
    for link in AuditLink.objects.order_by("sequence").iterator(200):
        of = f"audit link {link.sequence}"
        held = Link(
            content=link.content,
            previous_sha256=link.previous_sha256,
            sha256=link.sha256,
        )
        if link.sequence != sequence + 1 or link.previous_sha256 != previous:
            yield Difference(of=of, says="it does not follow the link before it")
        if not link_holds(held):
            yield Difference(of=of, says="its content does not hash to what it says")
        sequence, previous = link.sequence, link.sha256
        try:
            content = json.loads(link.content)
            yield from _link(of, link, content, after)
            after = int(content["rows"]["up_to"])
        except UNREADABLE as error:
            yield Difference(of=of, says=f"it cannot be read: {error!r}")


def _link(
    of: str, link: AuditLink, content: dict[str, dict[str, object]], after: int
) -> Iterator[Difference]:
    rows, night = content["rows"], content["night"]
    if rows["after"] != after:
        yield Difference(of=of, says="rows are missing between it and the one before")
    up_to = int(str(rows["up_to"]))
    if rows != rows_as_json(after, up_to):
        yield Difference(
            of=of, says=f"audit rows {after + 1} to {up_to} are not what was linked"
        )
    if link.night is not None and night != night_as_json(link.night_id or 0):
        yield Difference(
            of=of, says=f"{link.night}: its seals are not those that it was closed with"
        )


def rows_as_json(after: int, up_to: int) -> dict[str, object]:
    """Say of audit rows from where to where they are, how many, and their hash."""
    rows = AuditRow.objects.filter(pk__gt=after, pk__lte=up_to).order_by("pk")
    count, digest = 0, hashlib.sha256()
    for key, sha256 in _hashes(rows.iterator(_AT_ONCE)):
        digest.update(f"{key} {sha256.hex()}\n".encode())
        count += 1
    return {
        "after": after,
        "up_to": up_to,
        "count": count,
        "sha256": digest.hexdigest(),
    }


def _hashes(rows: Iterable[AuditRow]) -> Iterator[tuple[int, bytes]]:
    for row in rows:
        yield row.pk, row_hash(row) if row.sha256 is None else bytes(row.sha256)


def night_as_json(night_id: int) -> dict[str, object]:
    """Say of a night the head and the count of its seals."""
    seals = Seal.objects.filter(night=night_id).order_by("sequence")
    hashes = list(seals.values_list("sha256", flat=True))
    return {"head": hashes[-1] if hashes else "", "count": len(hashes)}
