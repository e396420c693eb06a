"""
What the block sends, compressed as it is sent, over a whole car of the demo's night.

The figures are promises of this project: a hall's wireless carries it for twenty
browsers.  Static files are hashed and kept by a browser, and count for nothing here.
"""

import gzip
import json
import random
import statistics
from collections.abc import Iterator

import pytest
from django.db import transaction
from django.test import Client
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from deploy.demo.club import play_club
from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.loaders.block.steps import load_steps
from inspection.models import Sheet
from inventory.loaders.gauges import load_gauges
from inventory.models import Person
from tests.bench.bench_block import PASSWORD, follow, reading_of, take
from tests.bench.shown import Shown

KIB = 1024
FIRST_VISIT, DRAWINGS = 40 * KIB, 4 * KIB
#: One in the middle, and one that turns half the rules.
READING, LARGEST_READING = 2 * KIB, 4 * KIB
VIEWS = {"rear-view", "side-view"}


@pytest.fixture(scope="module")
def sheet(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Sheet]:
    with django_db_blocker.unblock(), transaction.atomic():
        play_club(now=timezone.now(), password=PASSWORD)
        yield Sheet.objects.filter(seal=None, void=None).earliest("pk")
        transaction.set_rollback(True)


def compressed(said: object) -> int:
    return len(gzip.compress(json.dumps(said).encode()))


@pytest.mark.long  # plays the demo's club
@pytest.mark.django_db
def test_a_car_on_the_block_is_light_over_the_wire(sheet: Sheet) -> None:
    client = Client(headers={"accept-encoding": "gzip"})
    client.force_login(
        Person.objects.get(sign_in_name="hector"),
        backend="django.contrib.auth.backends.ModelBackend",
    )
    page = client.get(f"/sheet/{sheet.number}/block")
    assert page["Content-Encoding"] == "gzip"
    assert len(page.content) <= FIRST_VISIT
    shown = Shown(sheet.number)
    shown.opened(gzip.decompress(page.content).decode())
    chance = random.Random(12)
    steps = load_steps(
        load_sheet(sheets_to_load().get(pk=sheet.pk)), load_gauges(timezone.now())
    )
    plain = Client()
    plain.cookies = client.cookies
    readings, drawings = [], []
    for step in steps:
        answer = take(plain, shown, reading_of(step, chance), chance)
        assert answer.status_code == 200, answer.content[:300]
        said = answer.json()
        assert not VIEWS & said["pieces"].keys()
        readings.append(compressed(said))
        behind = follow(plain, shown)
        pieces = behind.json()["pieces"] if said["follows"] else {}
        views = {key: pieces[key] for key in VIEWS & pieces.keys()}
        drawings.append(compressed(views))
    assert len(readings) > 15
    assert statistics.median(readings) <= READING
    assert max(readings) <= LARGEST_READING
    assert DRAWINGS >= max(drawings) > KIB
    news = client.get(shown.news, headers={"accept": "application/json"})
    assert (news.status_code, news.content) == (204, b"")
