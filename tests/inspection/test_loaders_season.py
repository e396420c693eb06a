"""A season's figures, of nights that were held."""

import datetime as dt
import statistics
import uuid

import pytest
from django.utils import timezone

from inspection.actions.cars import fit_part
from inspection.actions.readings import TypedReading, strike_reading, take_reading
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import start_sheet
from inspection.compute.entries import Decision, PartPosition
from inspection.loaders.readings_of_season import load_repeats, load_wear
from inspection.loaders.season import (
    Passed,
    Period,
    load_margins,
    load_pass_rates,
)
from inspection.models import Car, Entry, RaceNight, Rule, SheetReading
from inventory.actions.audit import Act
from inventory.actions.stock import TyreFacts
from inventory.models import Person
from tests import builders
from tests.browser.race_night import RULES, Club, enter, make_club, now, take
from tests.inspection.sealed_cars import seal, seal_car

pytestmark = pytest.mark.django_db

FEW = tuple(rule for rule in RULES if rule.number in {"1.1", "3.1", "4.2"})
ONE_DAY = dt.timedelta(days=1)
NIGHT = Period(start=builders.NOW.date(), end=builders.NOW.date())
LEFT, RIGHT = "tyre_diameter_rear_left", "tyre_diameter_rear_right"


@pytest.fixture
def club() -> Club:
    return make_club(FEW)


def rate(number: str) -> Passed:
    rows = load_pass_rates(NIGHT).rules
    return next(one.passed for one in rows if one.rule.number == number)


def test_first_look_of_each_car_is_counted_by_rule_and_class(club: Club) -> None:
    seal_car(club, {})
    light = seal_car(club, {"weight_car": "79.1"})
    seal_car(club, {"weight_car": "", "motor_sealed": "no"})
    rates = load_pass_rates(NIGHT)
    assert rates.classes == ("Saloon",)
    assert rates.cars == (Passed(admitted=1, judged=3),)
    # What was not measured is left out.
    assert rate("4.2") == Passed(admitted=1, judged=2)
    assert rate("1.1") == Passed(admitted=2, judged=3)
    assert rate("4.2").percent == 50
    # A re-check is no first look.
    builders.act()
    entry = Entry.objects.get(pk=light.entry_id)
    Entry.objects.filter(pk=entry.pk).update(state="waiting")
    again = start_sheet(entry.pk, block=club.block, changed=(), act=now(club.anna))
    take(club, again, {"weight_car": "81.0"})
    seal(club, again)
    assert rate("4.2") == Passed(admitted=1, judged=2)


def test_rule_is_one_through_the_editions(club: Club) -> None:
    seal_car(club, {})
    stricter = builders.make_edition(
        [*FEW[:-1], builders.rule("4.2", "weight_car", lower=99)]
    )
    club.night = builders.make_night(stricter)
    seal_car(club, {})
    assert rate("4.2") == Passed(admitted=1, judged=2)
    rule = next(
        one.rule for one in load_pass_rates(NIGHT).rules if one.rule.number == "4.2"
    )
    assert rule.edition_id == stricter.pk
    margins = load_margins(rule, NIGHT)
    # 98.3 g over 80 g one night, under 99 g the other.
    assert [round(one.median, 6) for one in margins] == [18.3, -0.7]
    assert [one.count for one in margins] == [1, 1]


def test_margins_are_the_medians_of_each_night(club: Club) -> None:
    grams = ("81.0", "82.5", "90.0")
    for weight in grams:
        seal_car(club, {"weight_car": weight})
    rule = Rule.objects.get(number="4.2")
    (row,) = load_margins(rule, NIGHT)
    margins = [float(one) - 80 for one in grams]
    assert row.median == pytest.approx(statistics.median(margins))
    assert row.least == pytest.approx(min(margins))
    assert (row.count, row.class_name) == (3, "Saloon")
    outside = Period(start=NIGHT.start - dt.timedelta(9), end=NIGHT.end - ONE_DAY)
    assert load_margins(rule, outside) == ()
    assert load_pass_rates(outside).rules == ()


def test_nobody_was_judged_gives_no_share() -> None:
    assert Passed().percent is None


def read_again(club: Club, sheet_number: str, text: str, *, by: Person) -> SheetReading:
    taken = take_reading(
        sheet_number,
        TypedReading(
            reading_id=uuid.uuid4(),
            column="weight_car",
            text=text,
            gauge_mode_id=club.gauges["scale"].pk,
            is_confirmed=True,
        ),
        act=Act(by=by, at=timezone.now()),
    )
    assert taken.reading is not None
    return taken.reading


def test_repeats_are_pooled_by_person_and_by_quantity(club: Club) -> None:
    """Anna's and Bert's sets by the standard library's variance."""
    anna = [["98.1", "98.3", "98.2"], ["90.0", "90.4", "90.1", "90.2"]]
    bert = [["95.0", "95.5"], ["96.0", "96.1", "96.3", "96.2", "96.1"]]
    for person, sets in ((club.anna, anna), (club.bert, bert)):
        for texts in sets:
            entry = enter(club)
            sheet = start_sheet(entry.pk, block=club.block, changed=(), act=now(person))
            struck = read_again(club, sheet.number, "60", by=person)
            strike_reading(sheet.number, struck.pk, reason="grit", act=now(person))
            for text in texts:
                read_again(club, sheet.number, text, by=person)
    table = load_repeats(NIGHT)
    assert table.people == ("Anna Quill", "Bert Ash")
    (row,) = table.rows
    assert row.quantity.key == "weight_car"

    def pooled(sets: list[list[str]]) -> float:
        squares = sum(
            statistics.variance(map(float, one)) * (len(one) - 1) for one in sets
        )
        return float((squares / sum(len(one) - 1 for one in sets)) ** 0.5)

    assert row.club.deviation == pytest.approx(pooled(anna + bert))
    assert [one.deviation for one in row.by_person] == pytest.approx(
        [pooled(anna), pooled(bert)]
    )
    assert [one.sets for one in row.by_person] == [2, 2]
    assert [one.freedom for one in row.by_person] == [5, 5]
    assert [one.deviation for one in table.overall] == pytest.approx(
        [pooled(anna) / row.club.deviation, pooled(bert) / row.club.deviation]
    )
    assert all(one.tells for one in table.overall)


def test_too_few_repeats_tell_nothing(club: Club) -> None:
    entry = enter(club)
    sheet = start_sheet(entry.pk, block=club.block, changed=(), act=now(club.anna))
    for text in ("98.1", "98.3"):
        read_again(club, sheet.number, text, by=club.anna)
    table = load_repeats(NIGHT)
    assert table.rows == ()
    assert not table.overall[0].tells


def test_season_without_a_reading_has_no_repeats_and_no_wear() -> None:
    assert load_repeats(NIGHT).people == ()
    assert load_wear(NIGHT) == ()


def read_tyres(club: Club, car: Car, sizes: dict[str, str], *, after: bool) -> None:
    """Put a car on the block, before or after the race, and read its rear tyres."""
    entry = Entry.objects.filter(night=club.night, car=car).first() or enter(club, car)
    sheet = start_sheet(entry.pk, block=club.block, changed=(), act=now(club.anna))
    take(club, sheet, sizes)
    if not after:
        take(club, sheet, {"weight_car": "98.0", "motor_sealed": "yes"})
        seal_sheet(sheet.number, decision=Decision.PASSED, act=now(club.anna))


def test_wear_follows_each_tyre_from_night_to_night_by_compound(club: Club) -> None:
    car = builders.make_car()
    for position, compound in (
        (PartPosition.REAR_LEFT, "soft"),
        (PartPosition.REAR_RIGHT, "firm"),
    ):
        part = builders.make_part(TyreFacts(compound=compound))
        fit_part(car, part, position, act=builders.act())
    read_tyres(club, car, {LEFT: "20.40", RIGHT: "20.40"}, after=False)
    read_tyres(club, car, {LEFT: "20.35", RIGHT: "20.38"}, after=True)
    club.night = builders.make_night(Rule.objects.all()[0].edition)
    read_tyres(club, car, {LEFT: "20.35", RIGHT: "20.38"}, after=False)
    assert RaceNight.objects.count() == 2
    wear = {one.compound: one for one in load_wear(NIGHT)}
    # Nights 0, 1, 1: the straight line falls by the difference of the means.
    assert wear["soft"].median == pytest.approx(0.05)
    assert wear["firm"].median == pytest.approx(0.02)
    assert (wear["soft"].tyres, wear["soft"].nights) == (1, 1)
    assert wear["soft"].least == wear["soft"].most == wear["soft"].median
