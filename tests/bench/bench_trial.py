"""
How long a trial of a draft takes on the page: 10,000 cars by 40 rules.

Run as ``python -m tests.bench.bench_trial``; on PostgreSQL with the address of a
throwaway server in ``FEELERBOOK_TEST_DATABASE``.  Prints figures, asserts nothing
but that the cars one by one are found the same.
"""

import os
import resource
import time

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.test")
django.setup()

import numpy as np  # noqa: E402
from django.db import connection, reset_queries  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import (  # noqa: E402
    CaptureQueriesContext,
    setup_test_environment,
)
from django.urls import reverse  # noqa: E402

from inspection.compute.judging.evaluation import evaluate  # noqa: E402
from inspection.compute.rulebooks.requirements import Stage  # noqa: E402
from inspection.loaders.rulebooks.editions import load_edition  # noqa: E402
from inspection.loaders.rulebooks.judged_cars import arrays_of, judge_by  # noqa: E402
from inspection.loaders.rulebooks.stored_cars import (  # noqa: E402
    Choice,
    StoredCars,
    load_stored_cars,
)
from inspection.models import Edition  # noqa: E402
from inventory.compute.roles import Role  # noqa: E402
from tests import builders  # noqa: E402
from tests.bench.stored_cars import seed_cars  # noqa: E402

CARS = 10_000
ONE_BY_ONE = 200
#: Forty rules, most of them on how the car stands; limits made up.
RULES: list[tuple[str, dict[str, float]]] = [
    ("clearance_rear", {"lower": 0.8}),
    ("clearance_front", {"lower": 0.8}),
    ("clearance_least", {"lower": 0.5}),
    ("clearance_gear", {"lower": 0.8}),
    ("clearance_motor", {"lower": 0.8}),
    ("ride_height_rear", {"lower": 0.8, "upper": 3.0}),
    ("ride_height_front", {"lower": 0.8, "upper": 3.0}),
    ("twist", {"lower": -0.3, "upper": 0.3}),
    ("rake", {"lower": -1, "upper": 1}),
    ("tilt", {"lower": -1, "upper": 1}),
    ("axle_level", {"lower": -0.3, "upper": 0.3}),
    ("axle_square", {"lower": -1, "upper": 1}),
    ("tyre_mismatch_rear", {"lower": -0.2, "upper": 0.2}),
    ("tyre_mismatch_front", {"lower": -0.2, "upper": 0.2}),
    ("gear_ratio", {"lower": 2.5, "upper": 4}),
    ("rollout", {"lower": 10, "upper": 30}),
    ("tyre_diameter_rear", {"lower": 18, "upper": 24}),
    ("track_rear", {"lower": 50, "upper": 70}),
    ("weight_car", {"lower": 90}),
    ("motor_axle_offset", {"lower": -3, "upper": 3}),
]
#: What the draft moves: eight limits of forty.
MOVED = {1: 1.25, 5: 1.0, 9: -0.2, 13: -0.1, 19: 95.0, 21: 1.3, 33: -0.12, 39: 96.0}


def lower_limit(number: int) -> dict[str, float]:
    return {"lower": MOVED[number]} if number in MOVED else {}


def make_editions() -> tuple[Edition, Edition]:
    """Publish forty rules, and draft the same with some limits moved."""
    rules = [
        builders.rule(str(number), key, **limits)
        for number, (key, limits) in enumerate(RULES * 2, start=1)
    ]
    published = builders.make_edition(rules)
    moved = [
        builders.rule(str(number), key, **limits | lower_limit(number))
        for number, (key, limits) in enumerate(RULES * 2, start=1)
    ]
    return published, builders.make_edition(moved, published=False)


def visit(client: Client, address: str) -> tuple[float, float, int]:
    """Give the seconds by the clock and of the processor, and the statements."""
    with CaptureQueriesContext(connection) as context:
        clock, processor = time.perf_counter(), time.process_time()
        answer = client.get(address)
        took = time.perf_counter() - clock, time.process_time() - processor
    assert answer.status_code == 200, answer.status_code
    return *took, len(context.captured_queries)


def differing_one_by_one(draft: Edition, stored: StoredCars) -> int:
    """Evaluate some cars each alone, and count those found otherwise."""
    edition = load_edition(draft)
    rules = edition.at(Stage.BEFORE)
    together, _ = judge_by([edition], stored, Stage.BEFORE)
    wrong = 0
    for at in range(0, len(stored.cars), len(stored.cars) // ONE_BY_ONE):
        row = np.array([at])
        alone = StoredCars(cars=(stored.cars[at],), field=stored.field.take(row))
        found = evaluate(arrays_of(edition, rules, alone, Stage.BEFORE), alone.field)
        same = np.array_equal(found.outcome[0], together.outcome[at])
        same &= np.array_equal(found.margin[0], together.margin[at], equal_nan=True)
        wrong += not same
    return wrong


def main() -> None:
    setup_test_environment()
    connection.creation.create_test_db(verbosity=0)
    try:
        published, draft = make_editions()
        seed_cars(CARS, edition=published, race_class=builders.make_class())
        chief = builders.make_person(Role.CHIEF_SCRUTINEER)
        client = Client()
        client.force_login(chief, backend="django.contrib.auth.backends.ModelBackend")
        reset_queries()
        print(f"{CARS:,} cars × {len(RULES) * 2} rules, {connection.vendor}")
        rule = draft.rules.get(number="19").pk
        for what, address in (
            ("trial of the draft", reverse("inspection:trial", args=[draft.pk])),
            (
                "one limit moved",
                reverse("inspection:limit_trial", args=[rule]) + "?lower=96.5",
            ),
            ("season", reverse("inspection:season")),
        ):
            for run in (1, 2, 3):
                clock, processor, queries = visit(client, address)
                print(
                    f"  {what}, visit {run}: {clock:5.2f} s by the clock, "
                    f"{processor:5.2f} s of the processor, {queries} queries"
                )
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"  most memory, seeding and libraries and all: {peak:.0f} MiB")
        stored = load_stored_cars(Choice(rulebook_id=draft.rulebook_id))
        wrong = differing_one_by_one(draft, stored)
        print(f"  of {ONE_BY_ONE} cars one by one, {wrong} are found otherwise")
        assert not wrong
    finally:
        connection.creation.destroy_test_db(":memory:", verbosity=0)


if __name__ == "__main__":
    main()
