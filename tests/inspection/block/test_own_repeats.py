"""u by each person's own repeats, once the club has published that it counts."""

import math

import pytest
from django.test import Client

from inspection.actions.sheets import start_sheet
from inspection.compute.rulebooks import RuleText
from inspection.loaders.block.own_scatter import scatter_lines
from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.models import Sheet
from inventory.actions.club import ClubSettings, settle_club
from inventory.models import AuditRow, Club, GaugeMode, Person
from tests import builders

pytestmark = pytest.mark.django_db

WIDTH = "width_rear"
RULE = RuleText(number="1", sentence="At most 62 mm.", quantity=WIDTH, upper=62_000_000)
#: Of the registry for a width over the tyres; the caliper's step 0.01 beside it.
USUAL, STEP = 0.05, 0.01 / math.sqrt(12)


def publish(*, minutes: int = 0, counts: bool = True) -> None:
    said = ClubSettings(name="The club", uses_own_repeatability=counts)
    settle_club(said, act=builders.act(minutes=minutes))


def random_of(sheet: Sheet) -> float:
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    return loaded.values[WIDTH].random


@pytest.fixture
def caliper() -> GaugeMode:
    return builders.make_gauge()


@pytest.fixture
def careful() -> Person:
    return builders.make_scrutineer()


def read(sheet: Sheet, text: str, caliper: GaugeMode, by: Person) -> None:
    taken = builders.read(sheet, WIDTH, text, gauge=caliper, by=by, is_confirmed=True)
    assert taken.reading is not None


def test_own_repeats_count_from_the_published_setting_on(
    caliper: GaugeMode, careful: Person, client: Client
) -> None:
    night = builders.make_night(builders.make_edition([RULE]))
    first, second = (
        builders.make_sheet(entry=builders.make_entry(night=night), by=careful)
        for _ in range(2)
    )
    for turn in range(31):
        text = "60.01" if turn % 2 else "59.99"
        read(first, text, caliper, careful)
    read(second, "60.00", caliper, careful)
    assert random_of(second) == pytest.approx(math.hypot(USUAL, STEP), abs=1e-6)
    publish(minutes=10)
    # Said again it keeps its moment; what was begun before stays as it was.
    publish(minutes=20)
    assert Club.objects.get().own_repeatability_since == builders.act(minutes=10).at
    assert AuditRow.objects.filter(event="club.settled").count() == 2
    assert random_of(second) == pytest.approx(math.hypot(USUAL, STEP), abs=1e-6)
    entry = builders.make_entry(night=night)
    sheet = start_sheet(
        entry.pk, block=None, changed=(), act=builders.act(careful, minutes=30)
    )
    read(sheet, "60.00", caliper, careful)
    # 31 readings, 15 of them 59.99 or 60.01 about a mean beside 60: by hand.
    squares = 31 * 0.01**2 - 31 * (0.01 / 31) ** 2
    own = math.sqrt((USUAL**2 + squares) / 31)
    assert random_of(sheet) == pytest.approx(math.hypot(own, STEP), abs=2e-6)
    # Another's reading is worth what anybody's is.
    other = builders.make_scrutineer()
    read(sheet, "60.02", caliper, other)
    assert random_of(sheet) == pytest.approx(math.hypot(USUAL, STEP), abs=1e-6)
    (line,) = scatter_lines(caliper.gauge)
    assert (line.person, line.own.repeats) == (careful, 30)
    assert line.counts_as == pytest.approx(own)
    client.force_login(careful)
    page = client.get(f"/gauges/{caliper.gauge_id}").content.decode()
    assert "How it repeats in each hand" in page
    assert str(careful.name) in page
    publish(minutes=40, counts=False)
    assert Club.objects.get().own_repeatability_since is None
