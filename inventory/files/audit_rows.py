"""An audit row as one text, so that a hash means what it says."""

import datetime as dt
import hashlib
import json
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, kw_only=True)
class AuditEntry:
    """What an audit row says."""

    at: dt.datetime
    by: int | None
    event: str
    subject: str
    detail: Any


def entry_hash(entry: AuditEntry) -> bytes:
    """Give the SHA-256 of what a row says: JSON, keys sorted, no blanks."""
    # As it comes back from the database: lists for tuples, text for every key.
    detail = json.loads(json.dumps(entry.detail))
    content = {
        "at": entry.at.astimezone(dt.UTC).isoformat(),
        "by": entry.by,
        "detail": detail,
        "event": entry.event,
        "subject": entry.subject,
    }
    text = json.dumps(
        content, sort_keys=True, separators=(",", ":"), ensure_ascii=False
    )
    return hashlib.sha256(text.encode()).digest()
