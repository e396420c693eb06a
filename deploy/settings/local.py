"""
Settings of a club's own computer: plain HTTP, one folder of data, no secrets to give.

The folder (``FEELERBOOK_DATA``, else ``data`` in the project) holds the database,
the secret key and the static files, and is what a backup has to copy.  Pages say
that the connection is not protected.
"""

import os
import secrets
from pathlib import Path

from deploy.settings.base import *  # noqa: F403
from deploy.settings.base import BASE_DIR
from deploy.settings.databases import sqlite

DATA_DIR = Path(os.environ.get("FEELERBOOK_DATA") or BASE_DIR / "data").resolve()
DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)


def kept_secret(path: Path) -> str:
    """Return the secret in this file, made at the first call, for its owner alone."""
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text(encoding="ascii").strip()
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(secrets.token_urlsafe(64))
    return kept_secret(path)


INSTALLATION = "local"
DEBUG = False
SECRET_KEY = kept_secret(DATA_DIR / "secret-key")
ALLOWED_HOSTS = [
    "localhost",
    "127.0.0.1",
    "[::1]",
    *filter(None, os.environ.get("FEELERBOOK_HOSTS", "").split(",")),
]
TIME_ZONE = os.environ.get("FEELERBOOK_TIME_ZONE", "Europe/London")

DATABASES = {"default": sqlite(DATA_DIR / "feelerbook.sqlite3")}
STATIC_ROOT = DATA_DIR / "static"

# load_demo writes the demo's names and their password here, for its owner alone;
# each start prints it.  Without a file there is no demo, as on a shared server.
DEMO_FILE = DATA_DIR / "demo-accounts.txt"

# Without HTTPS a browser keeps neither a Secure nor a __Host- cookie.
SESSION_COOKIE_NAME = "session"
CSRF_COOKIE_NAME = "csrf"
