"""Nights of the past, copied from what was played."""

import datetime as dt
import random
from collections.abc import Sequence
from typing import Any, Final

from django.utils import timezone

from deploy.demo.club import Founded
from deploy.demo.nights import PLACE
from inspection.models import Entry, EntryMove, NightClass, RaceNight
from inventory.compute.stock import Move
from inventory.models import AuditRow, Part, PartMove, Person
from tests.bench.years.garage import Garage, YearsCar
from tests.bench.years.gauges import Gauges
from tests.bench.years.people import Cast, cast_of, names_in_seals
from tests.bench.years.sheets import EntryCopy, SheetsOfNight, refuse_other_forms
from tests.bench.years.templates import Row, Templates

SECONDS_A_CAR: Final = 90


class Chronicle:
    """Writes the nights of the years, the oldest first."""

    def __init__(
        self,
        founded: Founded,
        templates: Templates,
        garage: Garage,
        *,
        crew: Sequence[Person],
    ) -> None:
        refuse_other_forms(templates)
        self.founded, self.templates, self.garage = founded, templates, garage
        self.crew = crew
        self.rng = random.Random(11)
        self.gauges = Gauges(crew[0])
        self.named = names_in_seals()
        motors = Part.objects.filter(tag__in=founded.motors)
        self.motors = list(motors.values_list("pk", flat=True))

    def write(self, place: int, cars: Sequence[tuple[YearsCar, int]]) -> RaceNight:
        """Write one night with all that came of it."""
        opens_at = self.garage.opens[place]
        night = self._night(place, opens_at)
        cast = cast_of(place, self.founded, self.crew, self.named)
        self.gauges.check_for(place, opens_at)
        copies = self._entries(night, cars, opens_at, cast)
        sheets = SheetsOfNight(night, cast, self.gauges, rng=self.rng)
        sheets.write(copies, self.garage.learned)
        self._audit(night, copies)
        self._hand_out_motors(opens_at)
        self.gauges.check_after(place, opens_at)
        return night

    def _night(self, place: int, opens_at: dt.datetime) -> RaceNight:
        night = RaceNight.objects.create(
            name=f"League night {place + 1}",
            date=timezone.localdate(opens_at),
            place=PLACE,
            opened_at=opens_at,
            opened_by=self.founded.crew.chief,
            closed_at=opens_at + dt.timedelta(hours=6),
        )
        NightClass.objects.bulk_create(
            NightClass(night=night, race_class=one, edition=self.founded.edition)
            for one in self.founded.crew.classes.values()
        )
        return night

    def _entries(
        self,
        night: RaceNight,
        cars: Sequence[tuple[YearsCar, int]],
        opens_at: dt.datetime,
        cast: Cast,
    ) -> list[EntryCopy]:
        copies = []
        for place, (car, turn) in enumerate(cars):
            some = self.templates[car.like]
            like = some[turn % len(some)]
            starts_at = opens_at + dt.timedelta(seconds=SECONDS_A_CAR * place)
            shift = starts_at - like.begun
            said = {
                "id": None,
                "night_id": night.pk,
                "car_id": car.car.pk,
                "driver_id": car.owner_id,
                "number": car.car.number,
                "state_since": like.entry["state_since"] + shift,
            }
            copies.append(
                EntryCopy(
                    like=like,
                    car=car,
                    entry=Entry(**like.entry | said),
                    worn=car.worn_at(turn, self.garage.sizes.tyre_cycle),
                    shift=shift,
                )
            )
        Entry.objects.bulk_create(one.entry for one in copies)
        EntryMove.objects.bulk_create(
            EntryMove(**move | _moved(move, one, cast))
            for one in copies
            for move in one.like.moves
        )
        return copies

    def _audit(self, night: RaceNight, copies: Sequence[EntryCopy]) -> None:
        chief = self.founded.crew.chief
        rows = [
            AuditRow(at=at, actor=chief, event=event, subject=str(night))
            for event, at in (
                ("night.planned", night.opened_at),
                ("night.opened", night.opened_at),
                ("night.closed", night.closed_at),
            )
            if at is not None
        ]
        for one in copies:
            rows += _audit_of(one)
        AuditRow.objects.bulk_create(rows)

    def _hand_out_motors(self, opens_at: dt.datetime) -> None:
        """Let the hand-out motors go to drivers and come back."""
        keeper, driver = self.founded.crew.people["prudence"], self.garage.owners[0]
        PartMove.objects.bulk_create(
            PartMove(
                part_id=motor,
                move=move,
                at=opens_at + dt.timedelta(minutes=minutes),
                by=keeper,
                to_person=driver if move is Move.HAND_OUT else None,
            )
            for motor in self.motors
            for move, minutes in ((Move.HAND_OUT, 30), (Move.TAKE_BACK, 240))
        )


def _moved(move: Row, copy: EntryCopy, cast: Cast) -> Row:
    return {
        "id": None,
        "entry_id": copy.entry.pk,
        "at": move["at"] + copy.shift,
        "by_id": cast.person(move["by_id"], copy.car.owner_id),
    }


def _audit_of(copy: EntryCopy) -> list[AuditRow]:
    driver, car = copy.entry.driver_id, str(copy.car.car)

    def row(event: str, at: dt.datetime, subject: str, **detail: Any) -> AuditRow:
        return AuditRow(
            at=at, actor_id=driver, event=event, subject=subject, detail=detail
        )

    rows = [row("entry.made", copy.like.moves[0]["at"] + copy.shift, car)]
    rows += [
        row("entry.moved", move["at"] + copy.shift, car, to=move["to_state"], reason="")
        for move in copy.like.moves[1:]
    ]
    for one in copy.sheets:
        number, decision = one.sheet.number, one.like.seal["decision"]
        rows.append(row("sheet.started", one.sheet.started_at, number))
        said = {"decision": decision, "sha256": one.sha256}
        rows.append(row("sheet.sealed", one.sealed_at, number, **said))
    return rows
