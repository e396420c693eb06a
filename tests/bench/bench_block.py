"""
A reading in, outcomes out, beside a bare view that inserts one row.

    .venv/bin/python -m tests.bench.bench_block

Both go through the same middleware and the same sign-in, turn by turn, on one
SQLite file; the promise is a p95 of three times the bare view's.
"""

import itertools
import os
import statistics
import time
import uuid
from collections.abc import Callable
from typing import Any

os.environ["DJANGO_SETTINGS_MODULE"] = "deploy.settings.test"

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.http import HttpRequest, HttpResponse  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import override_settings  # noqa: E402
from django.urls import include, path  # noqa: E402
from django.utils import timezone  # noqa: E402

from inspection.actions.sheets import start_sheet  # noqa: E402
from inspection.compute.entries import EntryState  # noqa: E402
from inspection.management.demo.club import play_club  # noqa: E402
from inspection.models import Entry, Sheet  # noqa: E402
from inventory.access import ANYONE_SIGNED_IN, allow, signed_in  # noqa: E402
from inventory.actions.audit import Act  # noqa: E402
from inventory.models import AuditRow, GaugeMode, Person  # noqa: E402

TURNS = 120
#: The first turns load templates, the edition, and what a page shows to begin with.
UNCOUNTED = 14


@allow(ANYONE_SIGNED_IN)
def bare(request: HttpRequest) -> HttpResponse:
    """Insert one row, and nothing else."""
    AuditRow.objects.create(
        at=timezone.now(), actor=signed_in(request), event="bare.row", subject="bench"
    )
    return HttpResponse("ok")


urlpatterns = [path("bare", bare), path("", include("deploy.urls"))]


def main() -> None:
    call_command("migrate", verbosity=0)
    play_club(now=timezone.now(), password="four quiet wheels turn")
    client = Client()
    client.force_login(
        Person.objects.get(sign_in_name="hector"),
        backend="django.contrib.auth.backends.ModelBackend",
    )
    gauge = GaugeMode.objects.get(gauge__name="Caliper A", mode="outside")
    # A car has some twenty readings: every one of these is read so often, no more.
    numbers = itertools.cycle([*started(), *open_sheets()])
    have: dict[str, dict[str, str]] = {}

    def bare_post() -> Any:
        return client.post("/bare")

    def reading() -> Any:
        number = next(numbers)
        # As the page's script does: it tells what it shows, and gets what changed.
        shown = have.setdefault(number, {})
        answer = client.post(
            f"/sheet/{number}/reading",
            {
                "reading_id": uuid.uuid4(),
                "column": "tyre_diameter_rear_left",
                "text": "18.92",
                "gauge": gauge.pk,
                "confirmed": "on",
                "have": " ".join(shown.values()),
            },
            headers={"accept": "application/json"},
        )
        for key, html in answer.json()["pieces"].items():
            shown[key] = html.partition('data-tag="')[2].partition('"')[0]
        return answer

    with override_settings(ROOT_URLCONF=__name__):
        times = in_turn({"bare view": bare_post, "reading": reading})
    for name, spent in times.items():
        middle, late = statistics.median(spent), statistics.quantiles(spent, n=20)[18]
        print(f"{name:10} p50 {1e3 * middle:6.1f} ms   p95 {1e3 * late:6.1f} ms")
    p95 = [statistics.quantiles(spent, n=20)[18] for spent in times.values()]
    p50 = [statistics.median(spent) for spent in times.values()]
    print(f"reading / bare view: p50 {p50[1] / p50[0]:.1f}, p95 {p95[1] / p95[0]:.1f}")


def started() -> list[str]:
    """Put every car that waits on the block."""
    act = Act(by=Person.objects.get(sign_in_name="hector"), at=timezone.now())
    waiting = Entry.objects.filter(state=EntryState.WAITING, night__closed_at=None)
    return [
        start_sheet(entry.pk, block=None, changed=(), act=act).number
        for entry in waiting
    ]


def open_sheets() -> list[str]:
    """Give the demo's car that is on the block already."""
    return [Sheet.objects.filter(seal=None).earliest("id").number]


def in_turn(
    calls: dict[str, Callable[[], Any]],
) -> dict[str, list[float]]:
    """Time the calls turn by turn, after a few that do not count."""
    times: dict[str, list[float]] = {name: [] for name in calls}
    for turn in range(TURNS + UNCOUNTED):
        for name, call in calls.items():
            begun = time.perf_counter()
            answer = call()
            spent = time.perf_counter() - begun
            assert answer.status_code == 200, answer.content[:300]
            if turn >= UNCOUNTED:
                times[name].append(spent)
    return times


if __name__ == "__main__":
    main()
