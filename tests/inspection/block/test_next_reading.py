"""Which reading the block asks for next, of a car in doubt."""

import math

import pytest
from django.test import Client
from scipy import stats

from inspection.loaders.block.next_reading import NextStep, next_step_of
from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.models import Sheet
from inventory.models import GaugeMode, Person
from tests import builders
from tests.builders import rule

pytestmark = pytest.mark.django_db
WIDTH = "width_rear"


@pytest.fixture
def caliper() -> GaugeMode:
    return builders.make_gauge()


@pytest.fixture
def scrutineer() -> Person:
    return builders.make_scrutineer()


@pytest.fixture
def sheet(scrutineer: Person) -> Sheet:
    edition = builders.make_edition(
        [rule("1", WIDTH, upper=62), rule("2", "width_front", upper=62)]
    )
    entry = builders.make_entry(night=builders.make_night(edition))
    return builders.make_sheet(entry=entry, by=scrutineer)


def step_of(sheet: Sheet) -> NextStep | None:
    return next_step_of(load_sheet(sheets_to_load().get(pk=sheet.pk)))


def test_block_says_which_reading_would_settle_the_car(
    sheet: Sheet, caliper: GaugeMode, scrutineer: Person, client: Client
) -> None:
    builders.read(sheet, "width_front", "61.20", gauge=caliper, by=scrutineer)
    assert step_of(sheet) is None  # something was not read yet
    builders.read(sheet, WIDTH, "61.94", gauge=caliper, by=scrutineer)
    step = step_of(sheet)
    assert step is not None
    assert (step.column, step.rules) == (WIDTH, ("1",))
    # By hand: scatter 0.05 (registry), step 0.01, permissible error 0.02; one more
    # reading takes half of 0.05 squared off, and has to bring 1.645 u to the limit.
    u = math.hypot(0.05, 0.01 / 12**0.5, 0.02 / 3**0.5)
    gain = 0.05**2 / 2
    band = stats.norm.ppf(0.95) * math.sqrt(u**2 - gain)
    moved = stats.norm(scale=math.sqrt(gain))
    chance = moved.sf(band - 0.06) + moved.cdf(-band - 0.06)
    assert step.chance == pytest.approx(100 * chance, abs=1)
    client.force_login(scrutineer)
    page = client.get(f"/sheet/{sheet.number}/block").content.decode()
    assert "would settle it with a chance of" in page
    for _ in range(2):
        builders.read(sheet, WIDTH, "61.80", gauge=caliper, by=scrutineer)
    assert step_of(sheet) is None  # a pass beyond doubt


def test_gauge_that_cannot_tell_is_said_to(
    sheet: Sheet, caliper: GaugeMode, scrutineer: Person, client: Client
) -> None:
    builders.read(sheet, "width_front", "61.20", gauge=caliper, by=scrutineer)
    for _ in range(12):
        for text in ("61.98", "62.02"):
            builders.read(
                sheet, WIDTH, text, gauge=caliper, by=scrutineer, is_confirmed=True
            )
    # At the limit to 0.001: u is the caliper's own 0.012, and the scatter's 0.01.
    step = step_of(sheet)
    assert step is not None
    assert step.label == "" or not step.is_likely
    client.force_login(scrutineer)
    page = client.get(f"/sheet/{sheet.number}/block").content.decode()
    assert "In doubt: rule 1" in page
