"""The pages of a trial, a moved limit and the season, from end to end."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inspection.compute.rulebooks.requirements import Answer
from inspection.models import Edition, Rule
from inventory.compute.roles import Role
from tests import builders
from tests.bench.stored_cars import seed_cars
from tests.browser.race_night import RULES, Club, make_club
from tests.conftest import QueryGrowth
from tests.inspection.sealed_cars import seal_car

pytestmark = pytest.mark.django_db

FEW = tuple(rule for rule in RULES if rule.number in {"1.1", "3.1", "4.2"})


@pytest.fixture
def chief(client_of: Callable[[Any], Client]) -> Client:
    return client_of(builders.make_person(Role.CHIEF_SCRUTINEER))


@pytest.fixture
def club() -> Club:
    """Give a club with two cars sealed, one of them light."""
    club = make_club(FEW)
    seal_car(club, {})
    seal_car(club, {"weight_car": "79.1"})
    return club


@pytest.fixture
def draft(club: Club) -> Edition:
    """Give a draft in which the weight is 99 g and the tyre 18.6 mm."""
    return builders.make_edition(
        [
            builders.rule("1.1", "motor_sealed", required=Answer.YES),
            builders.rule("3.1", "tyre_diameter_rear", lower=18),
            builders.rule("4.2", "weight_car", lower=99),
        ],
        published=False,
    )


def at(name: str, *args: object) -> str:
    return reverse(f"inspection:{name}", args=args)


def words(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def rule_of(edition: Edition, number: str = "4.2") -> Rule:
    return edition.rules.get(number=number)


def test_trial_names_who_would_be_refused_and_by_how_much(
    chief: Client, draft: Edition
) -> None:
    page = words(chief.get(at("trial", draft.pk)))
    assert "<b>2</b> cars" in page
    assert "Admitted before, refused now" in page
    assert "4.2 short by 0.7 g" in page
    assert at("limit_trial", rule_of(draft).pk) in page


def test_trial_without_a_car_says_what_it_is_for(chief: Client, draft: Edition) -> None:
    page = words(chief.get(at("trial", draft.pk), {"stage": "after"}))
    assert "No sealed sheet to try it on" in page


def test_trial_of_the_first_edition_is_held_against_the_seals(
    chief: Client, club: Club
) -> None:
    page = words(chief.get(at("trial", Edition.objects.get().pk)))
    assert "As sealed" in page
    assert "No car changes." in page


def test_choice_that_is_not_sound_is_none(chief: Client, draft: Edition) -> None:
    page = words(
        chief.get(
            at("trial", draft.pk),
            {"stage": "later", "since": "soon", "race_class": "x"},
        )
    )
    assert "<b>2</b> cars" in page


def test_trial_asks_the_same_of_the_database_with_more_cars(
    chief: Client, draft: Edition, same_queries: QueryGrowth
) -> None:
    """Every fifth car has an older sheet too."""
    published = Edition.objects.published().get()

    def add(count: int) -> None:
        seed_cars(count, edition=published, race_class=builders.make_class())

    same_queries(lambda: chief.get(at("trial", draft.pk)), add, at_most=20)
    limit = at("limit_trial", rule_of(draft).pk)
    same_queries(lambda: chief.get(limit, {"lower": "95"}), add, at_most=20)


def test_trial_says_what_each_decision_rule_would_cost(
    chief: Client, club: Club, draft: Edition
) -> None:
    page = words(chief.get(at("trial", draft.pk)))
    assert "is not known yet" in page
    for weight in ("98.2", "98.9", "99.4", "100.3", "101.0"):
        seal_car(club, {"weight_car": weight})
    answer = chief.get(at("trial", draft.pk))
    season = answer.context["trial"].season
    assert [rule.number for rule in season.rules] == ["4.2"]
    assert season.looks == 7
    simple, acceptance, rejection = season.costs
    assert acceptance.refused_legal > simple.refused_legal > rejection.refused_legal
    assert (
        acceptance.admitted_illegal
        < simple.admitted_illegal
        < rejection.admitted_illegal
    )
    assert "What each decision rule would cost a season" in words(answer)
    assert "No verdict on any car" in words(answer)


def test_moved_limit_shows_whom_it_changes_and_what_would_admit_the_share(
    chief: Client, draft: Edition
) -> None:
    address = at("limit_trial", rule_of(draft).pk)
    page = words(chief.get(address, {"lower": "79", "share": "100"}))
    assert 'id="admitted-moved">2<' in page
    assert "limit 79.0" in page
    assert "2 of 2 cars" in page
    assert "lower=79.1" in page  # the strictest limit that admits both, as a link
    assert "Write it into the draft" in page
    as_drafted = words(chief.get(address))
    assert 'id="admitted-moved">0<' in as_drafted
    assert "Write it into the draft" not in as_drafted


def test_moved_limit_is_written_into_the_draft(chief: Client, draft: Edition) -> None:
    row = rule_of(draft)
    page = words(chief.get(at("limit_trial", row.pk), {"lower": "79"}))
    seen = page.split('name="seen" value="')[1].split('"')[0]
    said = {"lower": "79", "seen": seen}
    answer = chief.post(at("keep_limit", row.pk), said, follow=True)
    assert "Rule 4.2 is now: at least 79.0 g." in words(answer)
    row.refresh_from_db()
    assert row.lower == 79_000_000
    stale = chief.post(at("keep_limit", row.pk), {**said, "lower": "70"}, follow=True)
    assert "since you opened" in words(stale)
    wrong = chief.post(at("keep_limit", row.pk), {**said, "lower": "x"}, follow=True)
    assert "“x”" in words(wrong)
    row.refresh_from_db()
    assert row.lower == 79_000_000


@pytest.mark.parametrize(
    ("said", "word"),
    [
        ({"lower": "heavy"}, "heavy"),
        ({"share": "0"}, "“0”"),
        ({"share": "101"}, "“101”"),
        ({"lower": "12 mm"}, "12 mm"),
    ],
)
def test_limit_that_is_wrong_is_named_and_kept_as_typed(
    chief: Client, draft: Edition, said: dict[str, str], word: str
) -> None:
    answer = chief.get(at("limit_trial", rule_of(draft).pk), said)
    assert answer.status_code == 422
    assert word in words(answer)
    assert 'id="admitted-moved">0<' in words(answer)


def test_crossed_limits_are_refused(chief: Client, club: Club) -> None:
    both = builders.rule("1", "weight_car", lower=80, upper=99)
    draft = builders.make_edition([both], published=False)
    address = at("limit_trial", rule_of(draft, "1").pk)
    answer = chief.get(address, {"lower": "100"})
    assert answer.status_code == 422
    assert "above the upper" in words(answer)
    sound = words(chief.get(address, {"lower": "85", "upper": "90"}))
    assert "No upper limit admits so many" in sound
    assert "No lower limit admits so many" in sound


def test_looked_at_rule_shows_its_count_alone(chief: Client, draft: Edition) -> None:
    page = words(chief.get(at("limit_trial", rule_of(draft, "1.1").pk)))
    assert "As drafted" in page
    assert "As moved" not in page


def test_rule_that_is_not_asked_then_is_not_found(chief: Client, club: Club) -> None:
    only_before = builders.rule("1", "weight_car", lower=80, stage="before")
    draft = builders.make_edition([only_before], published=False)
    address = at("limit_trial", rule_of(draft, "1").pk)
    assert chief.get(address, {"stage": "after"}).status_code == 404
    assert chief.get(address, {"stage": "before"}).status_code == 200


def test_limit_of_a_quantity_that_nobody_read_is_shown_without_bars(
    chief: Client, club: Club
) -> None:
    body = builders.rule("1", "weight_body", lower=17)
    draft = builders.make_edition([body], published=False)
    page = words(chief.get(at("limit_trial", rule_of(draft, "1").pk)))
    assert "No car has this value yet." in page


def season(client: Client, **said: str) -> str:
    """Show a season that holds the day of the tests' nights."""
    day = builders.NOW.date().isoformat()
    return words(client.get(at("season"), {"start": day, "end": day} | said))


def test_season_is_empty_before_its_first_sheet(chief: Client) -> None:
    assert "No sealed sheet in this season" in words(chief.get(at("season")))


def test_season_shows_pass_rates_margins_and_repeats(
    client_of: Callable[[Any], Client], club: Club
) -> None:
    member = client_of(builders.make_person(Role.MEMBER))
    page = season(member)
    # One of the two passed; the rule on the weight admitted one of two.
    assert "<b>1 of 2 cars</b> passed at once" in page
    assert page.count("refused 1 of 2") == 1
    assert "Margins of rule 4.2" in page
    other = Rule.objects.get(number="3.1")
    assert "Margins of rule 3.1" in season(member, rule=str(other.pk))
    assert "No reading was repeated" in page
    assert "No tyre of the inventory" in page


def test_season_that_runs_backwards_is_refused(chief: Client) -> None:
    answer = chief.get(at("season"), {"start": "2026-05-08", "end": "2026-05-01"})
    assert answer.status_code == 422
    assert "The first day is after the last." in words(answer)


def test_season_is_the_last_year_unless_said(chief: Client) -> None:
    page = words(chief.get(at("season")))
    today = timezone.localdate()
    for day in (today, today - dt.timedelta(days=365)):
        assert f'value="{day.isoformat()}"' in page
