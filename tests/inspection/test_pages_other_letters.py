"""
Pages of what is computed, in a language of letters that are not ours.

Whatever stands on them in our letters is what somebody wrote, or went through no mark.
"""

import re
from collections.abc import Callable
from html import unescape

import pytest
from django.apps import apps
from django.db import models
from django.test import Client

from inspection.compute.lists import ListKind
from inspection.compute.night import PartPosition
from inspection.compute.quantities import Layout
from inspection.files.lists.columns import COLUMNS_OF
from inspection.models import Edition, Rule
from inventory.compute.measuring import GaugeMode as Mode
from inventory.compute.measuring import Instrument
from inventory.compute.numbers import Unit
from inventory.compute.roles import Role
from inventory.compute.stock import KINDS, GearRole
from inventory.files.roles import roles_of
from tests import builders
from tests.browser.long_words import left_in_ours, speak_in_other_letters
from tests.browser.race_night import make_club
from tests.inspection import garage
from tests.inspection.sealed_cars import seal_car

pytestmark = pytest.mark.django_db

#: The same in each language: our name, units, names of formats.
OURS = frozenset(
    {"Feelerbook", "rpm", "ohm", "Shore"}
    | {"CSV", "XLSX", "JSON", "SHA", "RFC", "Schema", "Unicode"}
)
#: A table is known by its headings, a list by them and by the words in it.
OF_TABLES = frozenset(
    word
    for text in (
        *(role.name for kind in KINDS for role in roles_of(kind)),
        *(one.heading for one in COLUMNS_OF[ListKind.GAUGES]),
        *(one.example for one in COLUMNS_OF[ListKind.GAUGES]),
        *Instrument,
        *Unit,
    )
    for word in left_in_ours(text)
)


def as_written() -> frozenset[str]:
    """Give each word that stands in a row as somebody wrote it."""
    written: set[str] = set()
    for model in apps.get_models():
        names = [
            one.name
            for one in model._meta.concrete_fields
            if isinstance(one, models.CharField | models.TextField) and not one.choices
        ]
        for row in model._default_manager.values_list(*names) if names else ():
            written |= {word for text in row for word in left_in_ours(str(text))}
    # A way of holding a gauge goes with its name into seals, as it was said then.
    return frozenset(written) | set(Mode)


def left_on(page: str, *, of_tables: bool = False) -> set[str]:
    """Give the words of a page in our letters, each with what stands around it."""
    page = re.sub(r"<(script|style|svg|code)\b.*?</\1>", " ", page, flags=re.DOTALL)
    shown = [unescape(one) for one in re.split(r"<[^>]*>", page)]
    known = as_written() | OURS | (OF_TABLES if of_tables else frozenset())
    return {
        one.strip()
        for one in shown
        if any(word not in known for word in left_in_ours(one))
    }


def test_pages_of_what_is_computed_speak_the_readers_language(
    client_of: Callable[[object], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    builders.make_edition(garage.RULES)
    person = builders.make_scrutineer()
    low = garage.gear(36, "18.60", hub="6.00")
    room = garage.ROOM | {"axle_to_bar_mm": "9.8", "slot_high_mm": "11.5"}
    car = garage.make_car(on_car={PartPosition.GEAR: low}, room=room)
    in_line = builders.make_car(layout=Layout.IN_LINE)
    garage.gear(28, "15.00")
    garage.gear(28, "11.91", pitch="64 pitch", bore="")
    garage.gear(28, "15.00", role=GearRole.CROWN)
    garage.pinion(9)
    garage.tyre("19.90"), garage.tyre("19.92")
    garage.motor()
    night = builders.make_night(Edition.objects.get())
    sheet = builders.make_sheet(
        entry=builders.make_entry(car=car, night=night), by=person
    )
    client = client_of(person)
    block = f"/sheet/{sheet.number}/block"
    scale = garage.caliper(Unit.GRAM).mode
    builders.read(sheet, "weight_car", "95.2", gauge=scale, by=person)
    speak_in_other_letters(monkeypatch)
    left = left_on(client.get(block).content.decode())
    for one in (car, in_line):
        for kind in ("gear", "pinion", "tyres", "motor"):
            page = client.get("/fit", {"car": one.tag, "kind": kind})
            assert page.status_code == 200
            left |= left_on(page.content.decode())
        left |= left_on(client.get(f"/cars/{one.tag}/sizes").content.decode())
    builders.send_back(sheet.number, act=builders.act(person, minutes=3))
    remedies = client.get(f"/sheet/{sheet.number}/remedies")
    assert remedies.status_code == 200
    left |= left_on(remedies.content.decode())
    assert sorted(left) == []


def test_pages_of_pairing_and_gauges_speak_the_readers_language(
    client_of: Callable[[object], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    for size in ("19.90", "19.92", "19.95"):
        garage.tyre(size)
    mode = garage.caliper().mode
    client = client_of(builders.make_person(*Role))
    speak_in_other_letters(monkeypatch)
    left: set[str] = set()
    for address in (
        "/pairing",
        "/pairing/of/loose",
        "/parts/new/tyre",
        "/parts/own/gear",
        "/gauges",
        "/gauges/usual",
        "/gauges/new",
        f"/gauges/{mode.gauge_id}",
        f"/gauges/{mode.gauge_id}/modes/new",
        f"/gauges/{mode.pk}/figures",
        f"/gauges/{mode.pk}/check",
        "/notices/how",
    ):
        answer = client.get(address)
        assert answer.status_code == 200, address
        left |= left_on(answer.content.decode())
    for address in ("/pairing/new", "/club/lists/gauges"):
        left |= left_on(client.get(address).content.decode(), of_tables=True)
    no_such = client.post(
        "/gauges/new", {"name": "7", "instrument": "scale", "mode": "depth"}
    )
    assert no_such.status_code == 422
    left |= left_on(no_such.content.decode())
    assert sorted(left) == []


def test_a_trial_and_its_decision_rules_speak_the_readers_language(
    client_of: Callable[[object], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    rules = (
        builders.rule("3.1", "clearance_front", lower=0.8),
        builders.rule("4.2", "weight_car", lower=78),
    )
    club = make_club(rules)
    for weight in ("78.5", "79.1", "99.5"):
        seal_car(club, {"weight_car": weight})
    draft = builders.make_edition(
        [builders.rule("4.2", "weight_car", lower=99)], published=False
    )
    client = client_of(club.chief)
    speak_in_other_letters(monkeypatch)
    edition = f"/rulebooks/edition/{draft.pk}"
    left: set[str] = set()
    for address in (
        "/rulebooks/new",
        edition,
        f"{edition}/settings",
        f"{edition}/publish",
        f"{edition}/trial",
        *(f"/rulebooks/rule/{one.pk}" for one in Rule.objects.all()),
        *(f"/rulebooks/rule/{one.pk}/trial" for one in draft.rules.all()),
    ):
        answer = client.get(address)
        assert answer.status_code == 200, address
        left |= left_on(answer.content.decode())
    assert sorted(left) == []
