"""The two health pages: the process runs; the database is ready."""

import pytest
from django.db import OperationalError, connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client


def test_live_asks_no_database() -> None:
    # Without the django_db mark, any query is an error.
    page = Client().get("/live")
    assert (page.status_code, page.content) == (200, b"live\n")
    assert "no-cache" in page["Cache-Control"]


@pytest.mark.django_db
def test_ready_says_so_when_the_tables_are_up_to_date() -> None:
    page = Client().get("/ready")
    assert (page.status_code, page.content) == (200, b"ready\n")


@pytest.mark.django_db
def test_ready_refuses_while_a_migration_waits() -> None:
    MigrationRecorder(connection).record_unapplied("sessions", "0001_initial")
    assert Client().get("/ready").status_code == 503


@pytest.mark.django_db
def test_ready_refuses_while_the_database_is_away() -> None:
    def away(*args: object) -> None:
        raise OperationalError

    with connection.execute_wrapper(away):
        page = Client().get("/ready")
    assert (page.status_code, page.content) == (503, b"not ready\n")


@pytest.mark.parametrize("address", ["/live", "/ready"])
def test_health_is_only_read(address: str) -> None:
    assert Client().post(address).status_code == 405
