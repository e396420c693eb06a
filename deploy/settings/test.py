"""
Settings of the test runs: the same apps, middleware and headers as an installation.

``FEELERBOOK_TEST_DATABASE`` is a ``postgresql://`` address, or is left out for a
file of SQLite.  A file, not memory: the browser tests write from other threads.
"""

import os
import tempfile
from pathlib import Path

from deploy.settings.base import *  # noqa: F403
from deploy.settings.base import LOGGING
from deploy.settings.databases import postgresql, sqlite

INSTALLATION = "test"
DEBUG = False
SECRET_KEY = "only-tests-use-this-key-" + "0123456789" * 4
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "testserver"]

_FOLDER = Path(tempfile.gettempdir())
DATA_DIR = _FOLDER
_URL = os.environ.get("FEELERBOOK_TEST_DATABASE", "")
DATABASES = {"default": postgresql(_URL) if _URL else sqlite(Path(":memory:"))}
if not _URL:
    # Only a test run makes the file; a management command leaves nothing behind.
    _FILE = _FOLDER / f"feelerbook-{os.getpid()}.sqlite3"
    DATABASES["default"]["TEST"] = {"NAME": _FILE}
DEMO_FILE = _FOLDER / f"feelerbook-{os.getpid()}-demo.txt"

# Sign-in is tested with the real hasher; a thousand fixtures need not wait for it.
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.MD5PasswordHasher",
    "deploy.signing_in.hashers.ModestArgon2Hasher",
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
STATIC_ROOT = None

# A line a request would bury what a failing test says.
LOGGING["loggers"]["feelerbook"]["level"] = "WARNING"

SESSION_COOKIE_NAME = "session"
CSRF_COOKIE_NAME = "csrf"
