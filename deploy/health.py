"""Whether the service lives, and whether it is ready for work; no version, no names."""

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe


@never_cache
@require_safe
def live(request: HttpRequest) -> HttpResponse:
    """Answer without the database: the process runs."""
    return HttpResponse("live\n", content_type="text/plain")


@never_cache
@require_safe
def ready(request: HttpRequest) -> HttpResponse:
    """Answer 200 only if the database answers and its tables are up to date."""
    if not is_database_ready():
        return HttpResponse("not ready\n", status=503, content_type="text/plain")
    return HttpResponse("ready\n", content_type="text/plain")


def is_database_ready() -> bool:
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return False
    return not waiting
