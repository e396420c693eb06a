"""Which database a process of the benchmark works on."""

import os
from typing import Final

SQLITE: Final = ".sqlite3"


def use_database(place: str) -> None:
    """Set Django up on a file of SQLite, or on a ``postgresql://`` address."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.test")
    if place.startswith("postgresql:"):
        os.environ["FEELERBOOK_TEST_DATABASE"] = place
    import django  # noqa: PLC0415

    django.setup()
    from django.db import connection  # noqa: PLC0415

    if not place.startswith("postgresql:"):
        connection.settings_dict["NAME"] = place
