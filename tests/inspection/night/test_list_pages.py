"""Each list page asks the database twelve things at most, at 3 and at 300 rows."""

from collections.abc import Callable

import pytest
from django.test import Client

from inspection.models import Car, Entry, EntryMove, Notice, RaceNight, Sheet
from inventory.compute.roles import Role
from inventory.loaders.clocks import forget_zone
from inventory.models import Person
from tests import builders
from tests.conftest import differing, listed, queries_of
from tests.inspection.night.stocked import (
    AddRows,
    add_draws,
    add_gauges,
    add_lent,
    add_pairs,
    add_parts,
    add_rulebooks,
)

pytestmark = pytest.mark.django_db

MOST = 12


def add_cars(night: RaceNight) -> AddRows:
    """Give what enters so many cars, each with its own owner, quickly."""
    race_class = builders.make_class()

    def add(count: int) -> None:
        first = Person.objects.count()
        people = Person.objects.bulk_create(
            Person(
                sign_in_name=f"crowd{first + n}",
                name=f"Driver {n}",
                joined_at=builders.NOW,
            )
            for n in range(count)
        )
        cars = Car.objects.bulk_create(
            Car(
                tag=f"X{first + n}",
                number=str(200 + first + n),
                name=f"Car {n}",
                owner=person,
                race_class=race_class,
                layout="in-line",
                front_carrier="guide",
                changed_at=builders.NOW,
            )
            for n, person in enumerate(people)
        )
        states = ("waiting", "passed", "sent back")
        entries = Entry.objects.bulk_create(
            Entry(
                night=night,
                car=car,
                race_class=race_class,
                driver=car.owner,
                number=car.number,
                state=states[n % 3],
                state_since=builders.NOW,
            )
            for n, car in enumerate(cars)
        )
        EntryMove.objects.bulk_create(
            EntryMove(
                entry=one,
                to_state=one.state,
                at=builders.NOW,
                by=one.driver,
                reason="as it was",
            )
            for one in entries
        )
        edition = night.classes.get().edition
        Sheet.objects.bulk_create(
            Sheet(
                number=f"S{one.pk}",
                entry=one,
                edition=edition,
                stage="before",
                started_at=builders.NOW,
                started_by=one.driver,
            )
            for one in entries[::2]
        )

    return add


def add_nights(night: RaceNight) -> AddRows:
    def add(count: int) -> None:
        first = RaceNight.objects.count()
        RaceNight.objects.bulk_create(
            RaceNight(
                name=f"Round {first + n}",
                date=night.date,
                opened_at=builders.NOW,
                closed_at=builders.NOW if n % 3 else None,
            )
            for n in range(count)
        )

    return add


def add_notices(night: RaceNight) -> AddRows:
    by = builders.make_admin()

    def add(count: int) -> None:
        Notice.objects.bulk_create(
            Notice(text=f"Notice {n}", by=by, at=builders.NOW) for n in range(count)
        )

    return add


PAGES = [
    ("/", add_cars),
    ("/hall", add_cars),
    ("/mine", add_cars),
    ("/cars", add_cars),
    ("/people", add_cars),
    ("/nights", add_nights),
    ("/notices", add_notices),
    ("/season", add_nights),
    ("/night/{night}/list", add_cars),
    ("/night/{night}/report", add_cars),
    ("/night/{night}/sheets", add_cars),
    ("/night/{night}/held", add_cars),
    ("/night/{night}/protests", add_cars),
    ("/night/{night}/fill", add_nights),
    ("/night/{night}/dry-run", add_cars),
    ("/night/{night}/enter", add_cars),
    ("/night/{night}/desk", add_cars),
    ("/parts", add_parts),
    ("/lent", add_lent),
    ("/drawers", add_parts),
    ("/pairs", add_pairs),
    ("/pairing", add_pairs),
    ("/draws", add_draws),
    ("/gauges", add_gauges),
    ("/rulebooks", add_rulebooks),
]


@pytest.mark.parametrize(("address", "rows"), PAGES)
def test_list_asks_the_same_at_3_and_at_300_rows(
    address: str, rows: Callable[[RaceNight], AddRows]
) -> None:
    night = builders.make_night()
    client = Client()
    client.force_login(builders.make_person(*Role))
    there, add = address.format(night=night.pk), rows(night)

    def visit() -> None:
        # The club's clock is remembered for a few seconds: here it is always asked.
        forget_zone()
        assert client.get(there).status_code == 200

    add(3)
    visit()
    few = queries_of(visit)
    add(297)
    many = queries_of(visit)
    assert len(few) == len(many), differing(few, many)
    assert len(many) <= MOST, listed(many)
