"""The triggers are there again after the test runner has emptied the tables."""

import pytest
from django.db import IntegrityError, connection

from inventory.models import AuditRow
from tests.builders import make_person
from tests.flushing import empty

COUNT = {
    "sqlite": "SELECT count(*) FROM sqlite_master WHERE type = 'trigger'",
    "postgresql": "SELECT count(*) FROM pg_trigger WHERE tgenabled = 'O'",
}


def trigger_count() -> int:
    with connection.cursor() as cursor:
        cursor.execute(COUNT[connection.vendor])
        count: int = cursor.fetchone()[0]
    return count


@pytest.mark.django_db(transaction=True)
def test_flush_empties_kept_rows_and_leaves_every_trigger() -> None:
    before = trigger_count()
    assert before
    make_person()
    assert AuditRow.objects.exists()
    empty(connection)
    assert not AuditRow.objects.exists()
    assert trigger_count() == before
    make_person()
    with pytest.raises(IntegrityError, match="rows are never changed"):
        AuditRow.objects.all().delete()
