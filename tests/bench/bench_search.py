"""
The one box beside seventy thousand parts: a search beside a page that asks nothing.

    .venv/bin/python -m tests.bench.bench_search

The bare page is "On the wall" without a notice: signing in, the frame of every page,
and no list.  Beside each search stands what the same costs in a club of forty parts.
"""

import os
import statistics
import time
from collections.abc import Callable

os.environ["DJANGO_SETTINGS_MODULE"] = "deploy.settings.test"

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from django.utils import timezone  # noqa: E402

from deploy.demo.club import play_club  # noqa: E402
from inventory.compute.stock import PartKind  # noqa: E402
from inventory.models import Part, Person, Tyre  # noqa: E402

PARTS = 70_000
RUNS = 7
BARE = "/notices"
#: A word of a name, a drawer, a tag to its beginning, what there is not.
ASKED = ("slick", "Q12", "b77", "hedgehog")


def main() -> None:
    call_command("migrate", verbosity=0)
    play_club(now=timezone.now(), password="four quiet wheels turn")
    client = Client()
    client.force_login(
        Person.objects.get(sign_in_name="hector"),
        backend="django.contrib.auth.backends.ModelBackend",
    )

    def visit(address: str) -> Callable[[], None]:
        def asks() -> None:
            answer = client.get(address)
            assert answer.status_code in {200, 302}, answer.status_code

        return asks

    for words in (f"{Part.objects.count()} parts", f"{PARTS:,} parts"):
        print(words)
        for asked in ASKED:
            compare(asked, visit(BARE), visit(f"/find?q={asked}"))
        if Part.objects.count() < PARTS:
            fill_drawers(PARTS)


def compare(asked: str, bare: Callable[[], None], search: Callable[[], None]) -> None:
    """Take both turn by turn, so that a busy machine slows both."""
    with CaptureQueriesContext(connection) as queries:
        search()
    # The next request clears the log.
    count = len(queries)
    times = [(seconds(bare), seconds(search)) for _ in range(RUNS)]
    ratio = statistics.median(whole / page for page, whole in times)
    best = min(whole for _, whole in times)
    print(
        f"    {asked:<10} {count:3} queries {best * 1000:7.1f} ms   "
        f"{ratio:5.2f} × the bare page"
    )


def seconds(work: Callable[[], None]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def fill_drawers(count: int) -> None:
    """Put tyres into stock past the actions."""
    now = timezone.now()
    first = Part.objects.order_by("-pk").values_list("pk", flat=True)[0] + 1
    keys = range(first, first + count)
    Part.objects.bulk_create(
        (
            Part(
                pk=key,
                tag=f"Q{key}",
                kind=PartKind.TYRE,
                name=f"{('Slick', 'Tyre', 'Ring')[key % 3]} {key}",
                drawer=f"B{key % 900}",
                received_at=now,
            )
            for key in keys
        ),
        batch_size=5000,
    )
    Tyre.objects.bulk_create(
        (Tyre(part_id=key, compound="soft") for key in keys), batch_size=5000
    )
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


if __name__ == "__main__":
    main()
