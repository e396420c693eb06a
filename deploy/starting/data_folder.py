"""
The folder of a local installation: for its owner alone, whatever was there.

It holds names, sealed sheets and the key of every session.  A folder that holds
something else is left as it is: making it private could lock others out of theirs.

Beside the demo club a club of one's own may have been begun: two files, and a word
that says which of them is in use.
"""

import os
from enum import StrEnum
from pathlib import Path

from deploy.starting.refusals import NotADataFolderError

DATABASE = "feelerbook.sqlite3"
OWN_DATABASE = "own-club.sqlite3"
IN_USE = "club-in-use"
DEMO_ACCOUNTS = "demo-accounts.txt"
#: For a child that readies the file which is not in use yet.
CHOSEN = "FEELERBOOK_CLUB"
SECRET_KEY = "secret-key"  # noqa: S105  a file's name
LOCK = "starting.lock"
OURS = frozenset({DATABASE, OWN_DATABASE, SECRET_KEY, LOCK})
#: What SQLite puts beside a database while it writes.
BESIDE = ("-journal", "-wal", "-shm")
OWNER_ONLY_FOLDER, OWNER_ONLY_FILE = 0o700, 0o600


class KeptClub(StrEnum):
    """Which of the clubs of a folder: the one it was made with, or one's own."""

    FIRST = "demo"
    OWN = "own"


DATABASE_OF = {KeptClub.FIRST: DATABASE, KeptClub.OWN: OWN_DATABASE}


def club_in_use(folder: Path) -> KeptClub:
    """Tell which club of the folder is in use; the first unless it was left."""
    if chosen := os.environ.get(CHOSEN):
        return KeptClub(chosen)
    try:
        return KeptClub((folder / IN_USE).read_text(encoding="ascii").strip())
    except (FileNotFoundError, ValueError):
        return KeptClub.FIRST


def use_club(folder: Path, club: KeptClub) -> None:
    """Use this club from now on: each connection that is made opens its file."""
    # Whole or not at all: a full disk leaves the word as it was.
    fresh = folder / f"{IN_USE}.new"
    fresh.write_text(club, encoding="ascii")
    fresh.replace(folder / IN_USE)


class DatabaseInUse(type(Path())):  # type: ignore[misc]
    """The database's path, looked up anew by each connection."""

    def __fspath__(self) -> str:
        name = DATABASE_OF[club_in_use(Path(str(self.parent)))]
        return os.path.join(str(self.parent), name)


def make_private(folder: Path) -> None:
    """
    Make the folder if it is not there, and let only its owner in.

    Raises NotADataFolderError where it is somebody else's.
    """
    folder.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
    there = {path.name for path in folder.iterdir()} - {"lost+found"}
    if there and there.isdisjoint(OURS):
        some = ", ".join(sorted(there)[:3])
        msg = (
            f"{folder} holds other things ({some}) and nothing of Feelerbook's. "
            "Name an empty or a new folder: --data FOLDER."
        )
        raise NotADataFolderError(msg)
    folder.chmod(OWNER_ONLY_FOLDER)
    databases = [name + end for name in DATABASE_OF.values() for end in ("", *BESIDE)]
    for name in (*databases, SECRET_KEY):
        if (folder / name).exists():
            (folder / name).chmod(OWNER_ONLY_FILE)


def make_database_private(folder: Path) -> Path:
    """Return the database in use, made empty if it is new, for its owner alone."""
    path = DatabaseInUse(folder / DATABASE)
    os.close(os.open(path, os.O_RDWR | os.O_CREAT, OWNER_ONLY_FILE))
    os.chmod(path, OWNER_ONLY_FILE)
    return path
