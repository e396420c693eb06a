"""
A race night for the browser: a club, its gauges, a rulebook of every kind of rule.

The rulebook is made up for the tests; no limit in it is anybody's.
"""

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from django.utils import timezone

from inspection.actions.cars import TakenWith, store_geometry
from inspection.actions.race_nights import enter_car
from inspection.actions.readings import (
    Taken,
    TypedReading,
    strike_reading,
    take_reading,
)
from inspection.actions.sheets import start_sheet
from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.quantities.quantity import FrontCarrier
from inspection.compute.rulebooks.requirements import Answer, Evidence, Force
from inspection.compute.rulebooks.text import RuleText
from inspection.models import Block, Car, Edition, Entry, RaceNight, Sheet
from inventory.actions.audit import Act
from inventory.compute.measuring.instruments import CheckKind, CheckResult, Instrument
from inventory.compute.numbers.units import Unit
from inventory.compute.roles import Role
from inventory.models import GaugeMode, Person
from tests import builders
from tests.builders import rule

RULES: tuple[RuleText, ...] = (
    rule("1.1", "motor_sealed", required=Answer.YES),
    rule("1.2", "driver_and_interior", required=Answer.YES),
    rule("1.3", "lights_work", required=Answer.YES, force=Force.ADVISORY),
    rule("2.1", "clearance_rear", lower=1.0, evidence=Evidence.TAKEN_ONLY),
    rule("2.2", "clearance_front", lower=0.8, evidence=Evidence.TAKEN_ONLY),
    rule("2.3", "clearance_gear", lower=0.6),
    rule("2.4", "clearance_motor", lower=0.5),
    rule("3.1", "tyre_diameter_rear", lower=18),
    rule("3.2", "tyre_width_rear", upper=10),
    rule("3.3", "tyre_mismatch_rear", lower=-0.1, upper=0.1, force=Force.ADVISORY),
    rule("3.4", "width_rear", upper=64),
    rule("3.5", "track_rear", upper=56),
    rule("4.1", "wheelbase", lower=90, upper=100),
    rule("4.2", "weight_car", lower=80),
    rule("4.3", "axle_level", lower=-0.15, upper=0.15),
    rule("4.4", "twist", lower=-0.4, upper=0.4),
)

#: Taken once and after a rebuild: all that the rules above derive from.
GEOMETRY: Mapping[str, str] = {
    "wheelbase_left": "95.02",
    "wheelbase_right": "95.06",
    "axle_height_rear_left": "8.50",
    "axle_height_rear_right": "8.46",
    "axle_station_span_rear": "30.0",
    "axle_height_front_left": "7.50",
    "axle_height_front_right": "7.48",
    "axle_station_span_front": "30.0",
    "gear_position_y": "4.0",
    "motor_lift_rear": "0.80",
    "motor_lift_front": "0.80",
    "can_rear_x": "12.0",
    "can_front_x": "40.0",
    "datum_half_width_rear": "18.0",
    "datum_half_width_front": "18.0",
}

#: What a good car reads, in the order of the steps; limit slips by their answer.
GOOD: Mapping[str, str] = {
    "motor_sealed": "yes",
    "lights_work": "yes",
    "driver_and_interior": "yes",
    "clearance_rear": "yes",
    "clearance_front": "yes",
    "width_rear": "63.41",
    "width_front": "58.11",
    "weight_car": "98.3",
    "tyre_diameter_rear_left": "20.41",
    "tyre_diameter_rear_right": "20.44",
    "tyre_width_rear": "9.62",
    "tyre_diameter_front_left": "18.02",
    "tyre_diameter_front_right": "18.05",
    "tyre_width_front": "6.11",
    "gear_diameter": "16.90",
    "can_width": "15.30",
}


@dataclass(kw_only=True)
class Club:
    """What a test needs of the club."""

    night: RaceNight
    block: Block
    anna: Person
    bert: Person
    chief: Person
    gauges: dict[str, GaugeMode] = field(default_factory=dict)


def make_club(
    rules: Iterable[RuleText] = RULES,
    *,
    decision_rule: DecisionRule = DecisionRule.SIMPLE_ACCEPTANCE,
) -> Club:
    """Make the people, the gauges and an open night; no car yet."""
    edition: Edition = builders.make_edition(rules, decision_rule=decision_rule)
    club = Club(
        night=builders.make_night(edition),
        block=Block.objects.create(name="Block one"),
        anna=builders.make_person(Role.SCRUTINEER, name="Anna Quill"),
        bert=builders.make_person(Role.SCRUTINEER, name="Bert Ash"),
        chief=builders.make_person(Role.CHIEF_SCRUTINEER, name="Cleo Marsh"),
    )
    for instrument, unit in (
        (Instrument.CALIPER, Unit.MILLIMETRE),
        (Instrument.SLIP_GAUGE, Unit.MILLIMETRE),
        (Instrument.SCALE, Unit.GRAM),
    ):
        club.gauges[instrument.value] = checked_gauge(instrument, unit)
    return club


def with_sentence(rule_text: RuleText, sentence: str) -> RuleText:
    """Give a rule with a longer sentence behind its own."""
    return replace(rule_text, sentence=f"{rule_text.sentence} is {sentence}")


def checked_gauge(instrument: Instrument, unit: Unit) -> GaugeMode:
    """Give a gauge that was checked against the master, and tonight."""
    mode = builders.make_gauge(instrument=instrument, unit=unit, at=timezone.now())
    for kind in (CheckKind.MASTER, CheckKind.TONIGHT):
        builders.check(mode.gauge, CheckResult.PASSED, kind=kind, at=timezone.now())
    return mode


def now(person: Person) -> Act:
    return Act(by=person, at=timezone.now())


def make_car(
    club: Club, *, carrier: FrontCarrier = FrontCarrier.FRONT_WHEELS, **changed: str
) -> Car:
    """Give a car with its geometry stored; ``changed`` by column."""
    car = builders.make_car(carrier=carrier)
    taken_with = TakenWith(gauge_mode=club.gauges["caliper"], gauge_check=None)
    store_geometry(
        car, {**GEOMETRY, **changed}, taken_with=taken_with, act=now(club.anna)
    )
    return car


def enter(club: Club, car: Car | None = None) -> Entry:
    car = car or make_car(club)
    return enter_car(
        club.night,
        car,
        race_class=car.race_class,
        driver=car.owner,
        act=now(club.anna),
    )


def make_sheet(club: Club, car: Car | None = None, by: Person | None = None) -> Sheet:
    """Put a car on the block."""
    entry = enter(club, car)
    return start_sheet(entry.pk, block=club.block, changed=(), act=now(by or club.anna))


def take(
    club: Club,
    sheet: Sheet,
    values: Mapping[str, str],
    *,
    by: Person | None = None,
    at: dt.datetime | None = None,
) -> list[Taken]:
    """Take readings as the page does, each with its usual gauge."""
    act = Act(by=by or club.anna, at=at or timezone.now())
    return [
        take_reading(sheet.number, typed_reading(club, column, text), act=act)
        for column, text in values.items()
    ]


def strike(sheet: Sheet, text: str, reason: str, *, by: Person) -> None:
    reading = sheet.readings.get(text=text)
    strike_reading(sheet.number, reading.pk, reason=reason, act=now(by))


def typed_reading(club: Club, column: str, text: str) -> TypedReading:
    is_slip = column.startswith("clearance_") and text in {"yes", "no"}
    limit = {"clearance_rear": "1.00", "clearance_front": "0.80"}.get(column, "")
    answer = Answer(text) if text in {"yes", "no"} else None
    kind = "slip gauge" if is_slip else "scale" if "weight" in column else "caliper"
    return TypedReading(
        reading_id=uuid.uuid4(),
        column=column,
        text=limit if is_slip else "" if answer else text,
        answer=answer,
        gauge_mode_id=club.gauges[kind].pk,
        is_confirmed=column in {"width_rear"},
    )
