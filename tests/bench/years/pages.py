"""The pages that a growing history may slow, each as somebody would open it."""

import json
import resource
import sys
import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.test import Client
from django.utils import timezone

from inspection.actions.drafts import copy_edition
from inspection.models import Car, Edition, Entry, FittedPart, RaceNight, Sheet
from inventory.actions.audit import Act
from inventory.models import DrawLot, GaugeMode, Part, Person

RULED = {"accept": "application/json"}
PIECE = {"HX-Request": "true"}


@dataclass(frozen=True, kw_only=True)
class Page:
    """An address, who opens it, and what is posted there."""

    address: str
    who: str = "hector"
    posted: Callable[[], dict[str, Any]] | None = None
    headers: dict[str, str] | None = None


@dataclass(frozen=True, kw_only=True)
class Club:
    """What of the club the addresses speak of."""

    night: int
    entry: int
    car: str
    basils_car: str
    on_block: str
    sealed: str
    sent_back: str
    gauge: int
    mode: int
    gear: str
    tyre: str
    motor: str
    draft: int
    rule: int


def club() -> Club:
    """Find them, the same ones in a small club and in a large one."""
    night = RaceNight.objects.under_way().get()
    tonight = Sheet.objects.filter(entry__night=night).order_by("-id")
    mode = GaugeMode.objects.get(
        gauge__name="Caliper A", mode="outside", replaced_at=None
    )
    motor = Part.objects.filter(pk__in=DrawLot.objects.values("motor")).earliest("pk")
    draft = Edition.objects.filter(published_at=None).first() or _draft()
    return Club(
        night=night.pk,
        entry=Entry.objects.filter(night=night, state="waiting").earliest("id").pk,
        car=_tag_of("3"),
        basils_car=_tag_of("18"),
        on_block=tonight.filter(seal=None)[0].number,
        sealed=tonight.filter(entry__car__number="3")[0].number,
        sent_back=tonight.filter(seal__decision="sent back")[0].number,
        gauge=mode.gauge_id,
        mode=mode.pk,
        gear=_on_car("3", "gear"),
        tyre=_on_car("3", "rear left"),
        motor=motor.tag,
        draft=draft.pk,
        rule=draft.rules.filter(quantity="weight_car")[0].pk,
    )


def _tag_of(number: str) -> str:
    return Car.objects.filter(number=number).earliest("id").tag


def _on_car(number: str, position: str) -> str:
    one = FittedPart.objects.select_related("part").get(
        car__number=number, position=position, removed_at=None
    )
    return one.part.tag


def _draft() -> Edition:
    chief = Person.objects.get(sign_in_name="barnaby")
    last = Edition.objects.published().latest("number")
    return copy_edition(last.pk, act=Act(by=chief, at=timezone.now()))


def pages(club: Club) -> dict[str, Page]:
    """Give each page a name and its address."""

    def reading() -> dict[str, Any]:
        return {
            "reading_id": uuid.uuid4(),
            "column": "width_rear",
            "text": "60.58",
            "gauge": club.mode,
            "confirmed": "on",
        }

    block = f"/sheet/{club.on_block}"
    cars_for = {
        "cars for a gear": f"/parts/{club.gear}/cars",
        "cars for a tyre": f"/parts/{club.tyre}/cars",
    }
    return {
        name: Page(address=address)
        for name, address in {
            "Tonight": "/",
            "block": f"{block}/block",
            "put on the block": f"/entry/{club.entry}/block",
            "enter a car": f"/night/{club.night}/enter",
            "cars": "/cars",
            "a car": f"/cars/{club.car}",
            "a sheet": f"/sheet/{club.sealed}",
            "remedies": f"/sheet/{club.sent_back}/remedies",
            "parts": "/parts",
            "parts searched": "/parts?q=soft",
            "a part": f"/parts/{club.gear}",
            "a motor": f"/parts/{club.motor}",
            "fit, asked": "/fit",
            "fit": "/fit?car=35&kind=gear",
            "fit, tyres": "/fit?car=35&kind=tyres",
            "unmarked gear": "/fit/unmarked-gear?role=spur&teeth=42&over=17.45",
            "gauges": "/gauges",
            "a gauge": f"/gauges/{club.gauge}",
            "season": "/season",
            "season, all": "/season?start=1990-01-01",
            "pairs": "/pairs",
            "draws": "/draws",
        }.items()
    } | {
        "reading": Page(address=f"{block}/reading", posted=reading, headers=RULED),
        "member's cars": Page(who="basil", address="/cars"),
        "member's car": Page(who="basil", address=f"/cars/{club.basils_car}"),
        "a part, keeper": Page(who="prudence", address=f"/parts/{club.gear}"),
        "trial": Page(who="barnaby", address=f"/rulebooks/edition/{club.draft}/trial"),
        "limit trial": Page(
            who="barnaby", address=f"/rulebooks/rule/{club.rule}/trial?lower=96.5"
        ),
        "new night": Page(who="barnaby", address="/night/new"),
        "people": Page(who="winifred", address="/people"),
        "pairing": Page(who="prudence", address="/pairing"),
        **{
            name: Page(address=address, headers=PIECE)
            for name, address in cars_for.items()
        },
    }


class Visitor:
    """Opens pages and says what each cost."""

    def __init__(self) -> None:
        self.pages = pages(club())
        self.clients: dict[str, Any] = {}

    def visit(self, name: str) -> dict[str, Any]:
        page = self.pages[name]
        client = self._client(page.who)
        posted = page.posted() if page.posted else None
        connection.force_debug_cursor = True
        connection.queries_log.clear()
        clock, processor = time.perf_counter(), time.process_time()
        if posted is None:
            answer = client.get(page.address, headers=page.headers or {})
        else:
            answer = client.post(page.address, posted, headers=page.headers or {})
        took = time.perf_counter() - clock, time.process_time() - processor
        assert answer.status_code == 200, (name, answer.status_code, page.address)
        return {
            "wall": took[0],
            "processor": took[1],
            "queries": len(connection.queries_log),
            "slowest": max(
                ((float(q["time"]), q["sql"][:3000]) for q in connection.queries),
                default=(0.0, ""),
            ),
            "bytes": len(answer.content),
            "peak_mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        }

    def _client(self, who: str) -> Any:

        if who not in self.clients:
            client = Client()
            client.force_login(
                Person.objects.get(sign_in_name=who),
                backend="django.contrib.auth.backends.ModelBackend",
            )
            self.clients[who] = client
        return self.clients[who]


def serve() -> None:
    """Take a name a line, and say in a line what the page cost."""
    visitor = Visitor()
    print(json.dumps(list(visitor.pages)), flush=True)
    for line in sys.stdin:
        print(json.dumps(visitor.visit(line.strip())), flush=True)
