"""
A reading in, outcomes out, beside a bare view that inserts one row.

    .venv/bin/python -m tests.bench.bench_block

A night is walked: every column of the cars that wait in the demo, twelve at most,
each with a value of its own, as a page's script does it, which tells what it shows and
gets what changed.  Both go through the same middleware and the same sign-in, turn by
turn, on one SQLite file.  What is drawn and folded follows each reading, as where a
hand rests after it.
"""

import os
import random
import statistics
import time
import uuid
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

os.environ["DJANGO_SETTINGS_MODULE"] = "deploy.settings.test"

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.http import HttpRequest, HttpResponse  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import override_settings  # noqa: E402
from django.urls import include, path  # noqa: E402
from django.utils import timezone  # noqa: E402

from deploy.demo.club import play_club  # noqa: E402
from inspection.actions.sheets import start_sheet  # noqa: E402
from inspection.compute.night.entries import EntryState  # noqa: E402
from inspection.loaders.block.sheets import load_sheet, sheets_to_load  # noqa: E402
from inspection.loaders.block.steps import Step, StepKind, load_steps  # noqa: E402
from inspection.models import Entry, Sheet  # noqa: E402
from inventory.access import allow, signed_in  # noqa: E402
from inventory.actions.audit import Act  # noqa: E402
from inventory.compute.roles import Ability  # noqa: E402
from inventory.loaders.gauges import load_gauges  # noqa: E402
from inventory.models import AuditRow, Person  # noqa: E402
from tests.bench.figures import Figure  # noqa: E402
from tests.bench.shown import Shown  # noqa: E402

CARS = 12
PASSWORD = "four quiet wheels turn"
#: The first turns load templates, the edition, and what a page shows to begin with.
UNCOUNTED = 20


@allow(Ability.LOOK)
def bare(request: HttpRequest) -> HttpResponse:
    """Insert one row, and nothing else."""
    AuditRow.objects.create(
        at=timezone.now(), actor=signed_in(request), event="bare.row", subject="bench"
    )
    return HttpResponse("ok")


urlpatterns = [path("bare", bare), path("", include("deploy.urls"))]


def reading_of(step: Step, chance: random.Random) -> dict[str, str]:
    """Type something into a step: about what it was, else about its middle."""
    quantity = step.quantity
    fields = {"column": step.column, "confirmed": "on", "shown": step.column}
    if step.kind is StepKind.LOOK:
        return fields | {"answer": "no" if chance.random() < 0.02 else "yes"}
    low, high = quantity.low, quantity.high
    middle = step.value.value if step.value else (low + min(high, low + 40)) / 2
    if step.kind is StepKind.COUNT:
        return fields | {"text": str(round(middle))}
    fields["gauge"] = str(step.gauges[0].mode.pk) if step.gauges else ""
    near = min(max(middle + chance.uniform(-0.2, 0.2), low), high)
    text = f"{near:.{quantity.decimals}f}"
    if step.kind is StepKind.SLIPS and step.limit is not None:
        if chance.random() < 0.5:
            goes = "yes" if chance.random() < 0.9 else "no"
            return fields | {"text": step.limit_text, "answer": goes}
        return fields | {"text": text, "high_text": f"{near + 0.05:.2f}"}
    return fields | {"text": text}


def night(client: Client) -> Iterator[tuple[Shown, dict[str, str]]]:
    """Give each reading of the night, the car's page opened before its first one."""
    chance = random.Random(12)
    for number in on_the_block():
        shown = Shown(number)
        shown.opened(client.get(shown.block).content.decode())
        loaded = load_sheet(sheets_to_load().get(number=number))
        for step in load_steps(loaded, load_gauges(timezone.now())):
            yield shown, reading_of(step, chance)


def on_the_block() -> list[str]:
    """Put every car that waits on the block; give those and the one that is there."""
    act = Act(by=Person.objects.get(sign_in_name="hector"), at=timezone.now())
    waiting = Entry.objects.filter(state=EntryState.WAITING, night__closed_at=None)
    for entry in waiting.order_by("pk"):
        start_sheet(entry.pk, block=None, changed=(), act=act)
    there = Sheet.objects.filter(seal=None, void=None).order_by("pk")
    return [sheet.number for sheet in there][:CARS]


def take(
    client: Client, shown: Shown, fields: dict[str, str], chance: random.Random
) -> Any:
    """Send a reading as the page's script does, and keep the tags of what came."""
    said = {
        **fields,
        "reading_id": str(uuid.UUID(int=chance.getrandbits(128), version=4)),
        "have": shown.have,
    }
    answer = client.post(
        f"/sheet/{shown.number}/reading",
        urlencode(said),
        content_type="application/x-www-form-urlencoded",
        headers={"accept": "application/json"},
    )
    shown.learn(answer.json())
    return answer


def follow(client: Client, shown: Shown) -> Any:
    """Ask for what is drawn and folded, as the page's script does behind a reading."""
    answer = client.get(shown.news, headers={"accept": "application/json"})
    shown.learn_from(answer.content)
    return answer


def scrutineer() -> Client:
    """Play the demo's club and sign one of its scrutineers in."""
    call_command("migrate", verbosity=0)
    play_club(now=timezone.now(), password=PASSWORD)
    client = Client()
    client.force_login(
        Person.objects.get(sign_in_name="hector"),
        backend="django.contrib.auth.backends.ModelBackend",
    )
    return client


def main() -> None:
    client = scrutineer()
    chance = random.Random(7)
    times: dict[str, list[float]] = {"bare view": [], "reading": [], "follows": []}
    work: dict[str, list[float]] = {"bare view": [], "reading": []}
    cars = set()
    with override_settings(ROOT_URLCONF=__name__):
        for turn, (shown, fields) in enumerate(night(client)):
            cars.add(shown.number)
            begun, worked = time.perf_counter(), time.process_time()
            first = client.post("/bare")
            between, till = time.perf_counter(), time.process_time()
            answer = take(client, shown, fields, chance)
            ended, done = time.perf_counter(), time.process_time()
            behind = follow(client, shown)
            rested = time.perf_counter()
            assert first.status_code == 200, first.content[:300]
            assert answer.status_code == 200, (fields, answer.content[:300])
            assert behind.status_code in {200, 204}, behind.content[:300]
            if turn >= UNCOUNTED:
                times["bare view"].append(between - begun)
                times["reading"].append(ended - between)
                times["follows"].append(rested - ended)
                work["bare view"].append(till - worked)
                work["reading"].append(done - till)
    print(f"{len(times['reading'])} readings of {len(cars)} cars")
    p50 = {name: statistics.median(spent) for name, spent in times.items()}
    p95 = {name: statistics.quantiles(spent, n=20)[18] for name, spent in times.items()}
    for name in times:
        print(
            f"{name:10} p50 {1e3 * p50[name]:6.1f} ms   p95 {1e3 * p95[name]:6.1f} ms"
        )
    most, last = (of["reading"] / of["bare view"] for of in (p50, p95))
    Figure(
        what=f"a reading in, outcomes out, {len(cars)} cars",
        promised="p50 ≤ 6 ×, p95 ≤ 7 ×",
        measured=f"{most:.1f} ×, {last:.1f} ×",
        beside="a view that inserts one row, by the clock",
    ).say()
    Figure(
        what="what is drawn and folded, behind it",
        promised="",
        measured=f"{p50['follows'] / p50['bare view']:.1f} ×, "
        f"{p95['follows'] / p95['bare view']:.1f} ×",
        beside="the same view, by the clock",
    ).say()
    busy = [statistics.median(work[name]) for name in ("reading", "bare view")]
    Figure(
        what="the same by the processor's time",
        promised="p50 ≤ 6 ×",
        measured=f"{busy[0] / busy[1]:.1f} ×",
        beside=f"{1e3 * busy[1]:.1f} ms of the bare view",
    ).say()
    print(f"reading / bare view: p50 {most:.1f}, p95 {last:.1f}")


if __name__ == "__main__":
    main()
