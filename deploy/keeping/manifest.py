"""What a backup says of itself: when, of what, how many rows, and its digest."""

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any, Final

from deploy.starting.refusals import StartRefusedError

FORMAT: Final = "feelerbook backup 1"


class Why(StrEnum):
    """On what occasion a backup was made."""

    DAILY = "daily"
    NIGHT = "night"
    UPGRADE = "upgrade"
    ASKED = "asked"


class NoBackupError(StartRefusedError):
    """No backup can be made, or none can be put back, with the reason."""


@dataclass(frozen=True, kw_only=True)
class Manifest:
    """
    The first thing that is read of a backup.

    ``migrations``: what made its tables, as ``app.name``.  ``counts``: the rows of
    each table at the moment of the copy.  ``sha256`` and ``size`` are those of the
    copy inside.
    """

    made_at: dt.datetime
    why: Why
    version: str
    engine: str
    engine_version: str
    migrations: tuple[str, ...]
    counts: Mapping[str, int]
    size: int
    sha256: str

    def as_json(self) -> str:
        members = asdict(self) | {"format": FORMAT, "made_at": self.made_at.isoformat()}
        return json.dumps(members, indent=1, sort_keys=True) + "\n"


def read_manifest(text: bytes) -> Manifest:
    """Read one; raises NoBackupError where it is none of this format."""
    try:
        members: dict[str, Any] = json.loads(text)
        if members.pop("format") != FORMAT:
            raise ValueError(FORMAT)
        return Manifest(
            made_at=dt.datetime.fromisoformat(members.pop("made_at")),
            why=Why(members.pop("why")),
            migrations=tuple(members.pop("migrations")),
            **members,
        )
    except (
        ValueError,
        KeyError,
        TypeError,
        AttributeError,
        RecursionError,
    ) as error:
        msg = f"The manifest in the file is not that of a “{FORMAT}”."
        raise NoBackupError(msg) from error
