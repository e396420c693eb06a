"""
A hundred thousand gears against one car: the page beside the bare query.

    .venv/bin/python -m tests.bench.bench_fit_page

The bare query is the very statement that loads the gears, run and fetched and
nothing else; the promise is three times that, and fifteen queries.
"""

import os
import statistics
import time
from collections.abc import Callable, Iterator
from typing import Any

os.environ["DJANGO_SETTINGS_MODULE"] = "deploy.settings.test"

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from django.utils import timezone  # noqa: E402

from deploy.demo.club import play_club  # noqa: E402
from inventory.compute.stock.words import GearRole, PartKind, PartQuantity  # noqa: E402
from inventory.models import Gear, Part, PartEstimate, Person  # noqa: E402

GEARS = 100_000
RUNS = 5
CAR = "35"


def main() -> None:
    call_command("migrate", verbosity=0)
    play_club(now=timezone.now(), password="four quiet wheels turn")
    fill_drawers(GEARS)
    client = Client()
    client.force_login(
        Person.objects.get(sign_in_name="hector"),
        backend="django.contrib.auth.backends.ModelBackend",
    )

    def page() -> Any:
        answer = client.get(f"/fit?car={CAR}&kind=gear")
        assert answer.status_code == 200
        return answer

    with CaptureQueriesContext(connection) as cold:
        page()
    with CaptureQueriesContext(connection) as warm:
        page()
    sql = max((q["sql"] for q in warm.captured_queries), key=len)
    print(f"{GEARS:,} gears; {len(cold)} queries at first, {len(warm)} later")

    def bare() -> None:
        with connection.cursor() as cursor:
            cursor.execute(sql)
            assert len(cursor.fetchall()) >= GEARS

    # Turn by turn, so that a busy machine slows both.
    times = [(seconds(bare), seconds(page)) for _ in range(RUNS)]
    ratio = statistics.median(whole / query for query, whole in times)
    print(f"    bare query {min(query for query, _ in times):7.3f} s")
    print(f"    page       {min(whole for _, whole in times):7.3f} s")
    print(f"    ratio      {ratio:7.2f}   (aim: at most 3)")


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def fill_drawers(count: int) -> None:
    """Put gears into stock, each with five sizes, past the actions."""
    now = timezone.now()
    person = Person.objects.get(sign_in_name="prudence")
    first = Part.objects.order_by("-pk").values_list("pk", flat=True)[0] + 1
    keys = range(first, first + count)
    Part.objects.bulk_create(
        (
            Part(pk=key, tag=f"G9{key}", kind=PartKind.GEAR, received_at=now)
            for key in keys
        ),
        batch_size=5000,
    )
    Gear.objects.bulk_create(
        (
            Gear(
                part_id=key,
                role=GearRole.SPUR,
                teeth=30 + key % 30,
                pitch_name="64 pitch",
            )
            for key in keys
        ),
        batch_size=5000,
    )
    PartEstimate.objects.bulk_create(estimates(keys, now, person), batch_size=5000)


def estimates(keys: range, now: Any, person: Person) -> Iterator[PartEstimate]:
    for key in keys:
        teeth = 30 + key % 30
        sizes = {
            PartQuantity.GEAR_DIAMETER: 25.4 / 64 * (teeth + 2),
            PartQuantity.BORE: 2.36 + key % 7 / 100,
            PartQuantity.HUB_WIDTH: 5.0 + key % 50 / 10,
            PartQuantity.FACE_WIDTH: 2.2,
            PartQuantity.MASS: 1.1,
        }
        for quantity, size in sizes.items():
            yield PartEstimate(
                part_id=key,
                quantity=quantity,
                value=round(size * 1_000_000),
                taken_at=now,
                by=person,
            )


if __name__ == "__main__":
    main()
