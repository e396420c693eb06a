"""
Whether the service lives, and whether it is ready for work; no version, no names.

Asked by the machine itself and by its like, by address and without TLS: the two
pages are answered before a host is looked at or a session, and are no routes.
"""

from collections.abc import Callable

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from deploy.starting.versions import unknown_migrations


@never_cache
@require_safe
def live(request: HttpRequest) -> HttpResponse:
    """Answer without the database: the process runs."""
    return line("live\n")


@never_cache
@require_safe
def ready(request: HttpRequest) -> HttpResponse:
    """Answer 200 only if the database answers and its tables are up to date."""
    return line("ready\n") if is_database_ready() else line("not ready\n", status=503)


def line(text: str, *, status: int = 200) -> HttpResponse:
    headers = {"Content-Length": str(len(text))}
    return HttpResponse(text, status=status, content_type="text/plain", headers=headers)


def is_database_ready() -> bool:
    try:
        executor = MigrationExecutor(connection)
        loader = executor.loader
        waiting = executor.migration_plan(loader.graph.leaf_nodes())
    except DatabaseError:
        return False
    applied = loader.applied_migrations or {}
    return not waiting and not unknown_migrations(applied, loader.disk_migrations)


class HealthPages:
    """Answer the two pages, under whatever name the machine was asked."""

    pages = {"/live": live, "/ready": ready}

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        page = self.pages.get(request.path_info, self.get_response)
        return page(request)
