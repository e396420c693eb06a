"""
Settings of a club's own computer: plain HTTP, one folder of data, no secrets to give.

The folder (``FEELERBOOK_DATA``, else ``data`` in the project) holds the database,
the secret key and the static files, and is what a backup has to copy.  Pages say
that the connection is not protected.
"""

import os
import secrets
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

from deploy.settings.base import *  # noqa: F403
from deploy.settings.base import BACKUP_FOLDER as _CHOSEN_FOLDER
from deploy.settings.base import BASE_DIR, LOGGING
from deploy.settings.databases import sqlite
from deploy.starting import data_folder
from deploy.starting.refusals import NotADataFolderError

DATA_DIR = Path(os.environ.get("FEELERBOOK_DATA") or BASE_DIR / "data").resolve()
try:
    data_folder.make_private(DATA_DIR)
except NotADataFolderError as _error:
    raise ImproperlyConfigured(str(_error)) from _error


def kept_secret(path: Path) -> str:
    """Return the secret in this file, made at the first call, for its owner alone."""
    if not path.exists():
        # Whole or not at all: a full disk leaves no empty key behind.
        fresh = path.with_suffix(".new")
        handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(secrets.token_urlsafe(64))
        fresh.replace(path)
    return path.read_text(encoding="ascii").strip()


INSTALLATION = "local"
DEBUG = False
SECRET_KEY = kept_secret(DATA_DIR / data_folder.SECRET_KEY)
ALLOWED_HOSTS = [
    "localhost",
    "127.0.0.1",
    "[::1]",
    *filter(None, os.environ.get("FEELERBOOK_HOSTS", "").split(",")),
]
TIME_ZONE = os.environ.get("FEELERBOOK_TIME_ZONE", "Europe/London")

DATABASES = {"default": sqlite(data_folder.make_database_private(DATA_DIR))}
BACKUP_FOLDER = _CHOSEN_FOLDER or DATA_DIR / "backups"
STATIC_ROOT = DATA_DIR / "static"
FILE_UPLOAD_PERMISSIONS = data_folder.OWNER_ONLY_FILE

# load_demo writes the demo's names and their password here, for its owner alone;
# each start prints it.  Without a file there is no demo, as on a shared server.
DEMO_FILE = DATA_DIR / data_folder.DEMO_ACCOUNTS

# Without HTTPS a browser keeps neither a Secure nor a __Host- cookie.
SESSION_COOKIE_NAME = "session"
CSRF_COOKIE_NAME = "csrf"

# Whoever started it by hand sees what is wrong; each request goes to a file.
_ROTATED = {"maxBytes": 5_000_000, "backupCount": 3, "delay": True}
LOGGING["handlers"]["console"] |= {"formatter": "line", "level": "WARNING"}
LOGGING["handlers"]["file"] = {
    "class": "logging.handlers.RotatingFileHandler",
    "filename": DATA_DIR / "feelerbook.log",
    "encoding": "utf-8",
    "formatter": "json",
    "filters": ["numbered"],
    **_ROTATED,
}
for _logger in (LOGGING["root"], *LOGGING["loggers"].values()):
    _logger["handlers"].append("file")
