"""A season's figures, of nights that were held."""

import datetime as dt
import re
import statistics
import uuid
from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.utils import timezone

from inspection.actions.fit.fitted import fit_part
from inspection.actions.race_nights import close_night, plan_night
from inspection.actions.readings import TypedReading, strike_reading, take_reading
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import start_sheet
from inspection.compute.judging import Outcome
from inspection.compute.night.entries import Decision, PartPosition
from inspection.loaders.history.night_sums import Period, load_nights
from inspection.loaders.history.readings_of_season import repeats_of, wear_of
from inspection.loaders.history.season import Passed, margins_of, pass_rates
from inspection.loaders.margins import margin_of_night
from inspection.models import (
    Car,
    Entry,
    Finding,
    NightSums,
    RaceNight,
    Rule,
    Seal,
    Sheet,
    SheetPart,
    SheetReading,
)
from inspection.views.history.season import NIGHTS_A_PAGE
from inventory.actions.audit import Act
from inventory.compute.stock import TyreFacts
from inventory.models import Person
from tests import builders
from tests.browser.race_night import RULES, Club, enter, make_club, now, take
from tests.conftest import queries_of
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
    rows = pass_rates(load_nights(NIGHT)).rules
    return next(one.passed for one in rows if one.rule.number == number)


def test_first_look_of_each_car_is_counted_by_rule_and_class(club: Club) -> None:
    seal_car(club, {})
    light = seal_car(club, {"weight_car": "79.1"})
    seal_car(club, {"weight_car": "", "motor_sealed": "no"})
    rates = pass_rates(load_nights(NIGHT))
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


def test_rules_that_refused_alike_are_named_together(club: Club) -> None:
    for values in ({}, {"weight_car": "79.1"}, {"motor_sealed": "no"}):
        seal_car(club, values)
    client = Client()
    client.force_login(club.chief)
    page = client.get("/season", {"start": "2026-05-01", "end": "2026-05-31"})
    words = " ".join(page.content.decode().split())
    assert "refused most, and alike: rules 1.1, 4.2." in words


def test_page_says_first_how_many_passed_and_shows_each_car_as_a_dot(
    club: Club,
) -> None:
    for values in ({}, {}, {"weight_car": "79.1"}, {"weight_car": "79.0"}):
        seal_car(club, values)
    own = seal_car(club, {"motor_sealed": "no"})
    client = Client()
    client.force_login(own.entry.driver)
    rule_key = Rule.objects.get(number="4.2").pk
    asked = {"rule": str(rule_key), "start": "2026-05-01", "end": "2026-05-31"}
    page = client.get("/season", asked)
    words = " ".join(page.content.decode().split())
    assert "<b>2 of 5 cars</b> passed at once; rule 4.2, " in words
    assert "refused most." in words
    assert "refused 2 of 5" in words
    # One rule refused two of five, another one of five: each car a dot under both,
    # and again under its night; a member opens the own sheet and no other.
    assert words.count('class="dot is-out"') == 2 + 1 + 2
    assert len(re.findall(r'class="dot[ "]', words)) == 5 + 5 + 5
    assert words.count(f'href="/sheet/{own.number}"') == 3
    assert words.count('href="/sheet/') == 3
    # 79.0 g is a gram short of 80 g; of what is looked at there is no strip.
    assert words.count('class="strip') == 1
    rule = Rule.objects.get(number="4.2")
    margin = margin_of_night(rule, -1.0)
    assert margin is not None
    assert (margin.lower, margin.upper) == (80, None)
    assert margin.value == pytest.approx(79.0)
    assert margin.outcome is Outcome.FAIL
    assert margin_of_night(Rule.objects.get(number="1.1"), 1.0) is None
    for name in Person.objects.exclude(pk=own.entry.driver_id).values_list(
        "name", flat=True
    ):
        assert name not in words.partition("How repeats spread")[0]
    client.force_login(builders.make_scrutineer())
    page = client.get("/season", asked)
    assert page.content.decode().count('href="/sheet/') == 15


def test_rule_is_one_through_the_editions(club: Club) -> None:
    seal_car(club, {})
    stricter = builders.make_edition(
        [*FEW[:-1], builders.rule("4.2", "weight_car", lower=99)]
    )
    club.night = builders.make_night(stricter)
    seal_car(club, {})
    assert rate("4.2") == Passed(admitted=1, judged=2)
    rule = next(
        one.rule
        for one in pass_rates(load_nights(NIGHT)).rules
        if one.rule.number == "4.2"
    )
    assert rule.edition_id == stricter.pk
    margins = margins_of(rule, load_nights(NIGHT))
    # 98.3 g over 80 g one night, under 99 g the other.
    assert [round(one.median, 6) for one in margins] == [18.3, -0.7]
    assert [one.count for one in margins] == [1, 1]


def test_margins_are_the_medians_of_each_night(club: Club) -> None:
    grams = ("81.0", "82.5", "90.0")
    for weight in grams:
        seal_car(club, {"weight_car": weight})
    rule = Rule.objects.get(number="4.2")
    (row,) = margins_of(rule, load_nights(NIGHT))
    margins = [float(one) - 80 for one in grams]
    assert row.median == pytest.approx(statistics.median(margins))
    assert row.least == pytest.approx(min(margins))
    assert (row.count, row.class_name) == (3, "Saloon")
    outside = Period(start=NIGHT.start - dt.timedelta(9), end=NIGHT.end - ONE_DAY)
    assert margins_of(rule, load_nights(outside)) == ()
    assert pass_rates(load_nights(outside)).rules == ()


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
    table = repeats_of(load_nights(NIGHT))
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
    table = repeats_of(load_nights(NIGHT))
    assert table.rows == ()
    assert not table.overall[0].tells


def test_season_without_a_reading_has_no_repeats_and_no_wear() -> None:
    assert repeats_of(load_nights(NIGHT)).people == ()
    assert wear_of(load_nights(NIGHT)) == ()


def read_tyres(club: Club, car: Car, sizes: dict[str, str]) -> None:
    """Put a car on the block, before the race or after it, and read its tyres."""
    entry = Entry.objects.filter(night=club.night, car=car).first() or enter(club, car)
    sheet = start_sheet(entry.pk, block=club.block, changed=(), act=now(club.anna))
    take(club, sheet, sizes | {"weight_car": "98.0", "motor_sealed": "yes"})
    seal_sheet(sheet.number, decision=Decision.PASSED, act=now(club.anna))


def test_wear_follows_each_tyre_from_night_to_night_by_compound(club: Club) -> None:
    car = builders.make_car()
    for position, compound in (
        (PartPosition.REAR_LEFT, "soft"),
        (PartPosition.REAR_RIGHT, "firm"),
    ):
        part = builders.make_part(TyreFacts(compound=compound))
        fit_part(car, part, position, act=builders.act())
    read_tyres(club, car, {LEFT: "20.40", RIGHT: "20.40"})
    read_tyres(club, car, {LEFT: "20.35", RIGHT: "20.38"})
    club.night = builders.make_night(Rule.objects.all()[0].edition)
    read_tyres(club, car, {LEFT: "20.35", RIGHT: "20.38"})
    assert RaceNight.objects.count() == 2
    wear = {one.compound: one for one in wear_of(load_nights(NIGHT))}
    # Nights 0, 1, 1: the straight line falls by the difference of the means.
    assert wear["soft"].median == pytest.approx(0.05)
    assert wear["firm"].median == pytest.approx(0.02)
    assert (wear["soft"].tyres, wear["soft"].nights) == (1, 1)
    assert wear["soft"].least == wear["soft"].most == wear["soft"].median


def hold_night(club: Club, weights: tuple[str, ...]) -> RaceNight:
    """Hold a night: cars of some weights, one read thrice, one with tyres."""
    night = club.night
    for weight in weights:
        seal_car(club, {"weight_car": weight})
    entry = enter(club)
    sheet = start_sheet(entry.pk, block=club.block, changed=(), act=now(club.bert))
    for text in ("98.1", "98.4", "98.2"):
        read_again(club, sheet.number, text, by=club.bert)
    take(club, sheet, {LEFT: "20.40", RIGHT: "20.40", "motor_sealed": "yes"})
    seal(club, sheet)
    car = builders.make_car()
    part = builders.make_part(TyreFacts(compound="soft"))
    fit_part(car, part, PartPosition.REAR_LEFT, act=builders.act())
    read_tyres(club, car, {LEFT: "20.40", RIGHT: "20.40"})
    read_tyres(club, car, {LEFT: "20.35", RIGHT: "20.38"})
    return night


def figures_of(period: Period) -> tuple[object, ...]:
    """Give all that a season's page shows of a period, to the digit."""
    nights = load_nights(period)
    rule = Rule.objects.filter(number="4.2").latest("pk")
    return (
        pass_rates(nights),
        margins_of(rule, nights),
        wear_of(nights),
        repr(repeats_of(nights)),
    )


def test_closed_nights_say_what_their_sheets_say_and_are_not_read_again(
    club: Club,
) -> None:
    first = hold_night(club, ("81.0", "79.2"))
    club.night = builders.make_night(Rule.objects.all()[0].edition)
    second = hold_night(club, ("84.0", "90.5", "79.9"))
    before = figures_of(NIGHT)
    close_night(first, act=builders.act())
    assert NightSums.objects.get().night == first
    # One night kept, one counted: together the same.
    assert figures_of(NIGHT) == before
    close_night(second, act=builders.act())
    assert figures_of(NIGHT) == before
    tables = {Sheet, SheetReading, SheetPart, Finding, Seal}
    statements = " ".join(queries_of(lambda: figures_of(NIGHT)))
    assert not [one for one in tables if f'"{one._meta.db_table}"' in statements]


def test_night_that_closed_before_sums_were_kept_is_made_good(club: Club) -> None:
    first = hold_night(club, ("81.0",))
    close_night(first, act=builders.act())
    before = figures_of(NIGHT)
    NightSums.objects.all().delete()
    assert figures_of(NIGHT) == before
    club.night = builders.make_night(Rule.objects.all()[0].edition)
    close_night(club.night, act=builders.act())
    assert {one.night for one in NightSums.objects.all()} == {first, club.night}
    assert figures_of(NIGHT) == before


def test_planned_night_is_no_night_of_a_season() -> None:
    plan_night(
        name="Next",
        date=NIGHT.start,
        place="",
        editions={builders.make_class(): builders.make_edition()},
        act=builders.act(),
    )
    assert load_nights(NIGHT) == []


@pytest.mark.sqlite
def test_tables_are_looked_at_when_a_night_closes(club: Club) -> None:
    close_night(hold_night(club, ("81.0",)), act=builders.act())
    with connection.cursor() as cursor:
        cursor.execute("SELECT tbl FROM sqlite_stat1")
        looked_at = {name for (name,) in cursor.fetchall()}
    assert {"inspection_sheetreading", "inspection_finding"} <= looked_at


def test_margins_of_many_nights_are_turned_year_by_year(
    club: Club, client_of: Callable[[Person], Client]
) -> None:
    race_class = builders.make_class()
    rule = Rule.objects.get(number="4.2")
    nights = RaceNight.objects.bulk_create(
        RaceNight(
            name=f"Night {place}",
            date=NIGHT.start - (place + 1) * ONE_DAY,
            opened_at=builders.NOW,
            closed_at=builders.NOW,
        )
        for place in range(NIGHTS_A_PAGE + 1)
    )
    NightSums.objects.bulk_create(
        NightSums(
            night=night,
            figures={
                "cars": [[race_class.pk, 2, 1]],
                "rules": [[rule.pk, race_class.pk, 2, 1, 2, 1.5e6, -1e6]],
            },
        )
        for night in nights
    )
    client = client_of(club.anna)
    start = NIGHT.start - 90 * ONE_DAY
    address = f"/season?start={start}&end={NIGHT.end}&rule={rule.pk}"
    first = client.get(address)
    margins = [one for one, _ in first.context["margins"]]
    assert len(margins) == NIGHTS_A_PAGE - 1  # and the open night, without any
    assert margins[0].date < margins[-1].date == NIGHT.start - ONE_DAY
    assert (margins[0].median, margins[0].least, margins[0].count) == (1.5, -1.0, 2)
    older = client.get(f"{address}&nights=2")
    assert len(older.context["margins"]) == 2
    assert "Page 2 of 2" in older.content.decode()
    # The rates are the whole period's on each page.
    assert older.context["rates"] == first.context["rates"]
    (row,) = older.context["rates"].rules
    assert row.passed == Passed(admitted=len(nights), judged=2 * len(nights))
