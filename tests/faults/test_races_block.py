"""Several scrutineers on one car at the same moment (R7)."""

import functools
from collections.abc import Callable

import pytest
from django.db import IntegrityError, transaction

from inspection.actions.readings import strike_reading
from inspection.actions.seals import first_broken_seal
from inspection.models import Seal, Sheet, SheetReading, Strike
from inventory.actions.stock import reserve_part
from inventory.compute.roles import Role
from inventory.compute.stock.words import Move
from inventory.models import PartMove
from tests import builders
from tests.faults.races import at_once

pytestmark = pytest.mark.django_db(transaction=True)

PEOPLE = 6


def test_one_seal_wins_and_the_others_are_told_who() -> None:
    sheet = builders.make_sheet()
    people = [builders.make_person(Role.CHIEF_SCRUTINEER) for _ in range(PEOPLE)]
    seals, refused = at_once(
        [
            functools.partial(
                builders.send_back, sheet.number, act=builders.act(person)
            )
            for person in people
        ]
    )
    assert len(seals) == Seal.objects.count() == 1
    assert {refusal.code for refusal in refused} == {"sheet_sealed"}
    winner = Seal.objects.get().sealed_by.name
    assert all(winner in refusal.sentence for refusal in refused)


def test_no_reading_is_lost_when_all_read_the_same_car() -> None:
    sheet, gauge = builders.make_sheet(), builders.make_gauge()
    people = [builders.make_scrutineer() for _ in range(PEOPLE)]
    taken, refused = at_once(
        [
            functools.partial(
                builders.read,
                sheet,
                "tyre_diameter_rear_left",
                f"18.{40 + place}",
                gauge=gauge,
                by=person,
                is_confirmed=True,
            )
            for place, person in enumerate(people)
        ]
    )
    assert not refused
    assert len(taken) == SheetReading.objects.count() == PEOPLE


def test_reading_and_seal_never_cross() -> None:
    sheet, gauge = builders.make_sheet(), builders.make_gauge()
    reading = functools.partial(
        builders.read, sheet, "tyre_diameter_rear_left", "18.4", gauge=gauge
    )
    chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    seal = functools.partial(builders.send_back, sheet.number, act=builders.act(chief))
    calls: list[Callable[[], object]] = [reading, seal, reading, reading]
    _, refused = at_once(calls)
    assert {refusal.code for refusal in refused} <= {"sheet_sealed"}
    # What was written is in the seal; what came later was refused.
    content = Seal.objects.get().content
    for row in SheetReading.objects.all():
        assert str(row.reading_id) in content


def test_seals_of_one_night_queue_for_their_place_in_the_chain() -> None:
    night = builders.make_night()
    sheets = [
        builders.make_sheet(entry=builders.make_entry(night=night))
        for _ in range(PEOPLE)
    ]
    chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    seals, refused = at_once(
        [
            functools.partial(builders.send_back, one.number, act=builders.act(chief))
            for one in sheets
        ]
    )
    assert not refused
    assert sorted(seal.sequence for seal in seals) == list(range(1, PEOPLE + 1))
    assert first_broken_seal(night) is None


def test_reading_is_struck_once() -> None:
    sheet, gauge = builders.make_sheet(), builders.make_gauge()
    taken = builders.read(sheet, "tyre_diameter_rear_left", "18.4", gauge=gauge)
    assert taken.reading is not None
    strikes, refused = at_once(
        [
            functools.partial(
                strike_reading,
                sheet.number,
                taken.reading.pk,
                reason="grit",
                act=builders.act(),
            )
            for _ in range(PEOPLE)
        ]
    )
    assert len(strikes) == Strike.objects.count() == 1
    assert {refusal.code for refusal in refused} == {"struck_already"}


def test_part_is_reserved_for_one_of_all_who_want_it() -> None:
    tyre = builders.make_part()
    people = [builders.make_person() for _ in range(PEOPLE)]
    _, refused = at_once(
        [
            functools.partial(reserve_part, tyre, act=builders.act(person))
            for person in people
        ]
    )
    assert len(refused) == PEOPLE - 1
    assert PartMove.objects.filter(move=Move.RESERVE).count() == 1


def test_two_who_write_a_sheet_at_once_past_the_actions_open_one() -> None:
    """What two servers with an older program might do; the database says no."""
    entry = builders.make_entry()
    edition = entry.night.classes.get().edition

    def write(place: int) -> str:
        try:
            with transaction.atomic():
                Sheet.objects.create(
                    number=f"raw {place}",
                    entry=entry,
                    edition=edition,
                    stage="before",
                    started_at=builders.NOW,
                    started_by=entry.driver,
                )
        except IntegrityError as error:
            return str(error)
        return "written"

    said, _ = at_once([functools.partial(write, place) for place in range(PEOPLE)])
    assert Sheet.objects.count() == said.count("written") == 1
    assert sum("open sheet already" in one for one in said) == PEOPLE - 1
