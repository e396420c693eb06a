"""What a driver is told first: on the page, on paper and in the sheet's file."""

import json
import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.test import Client

from deploy import check_sheet
from inspection.actions.seals import seal_sheet
from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.night import Decision
from inspection.compute.rulebooks import Answer, RuleText
from inspection.models import Sheet
from inventory.compute.measuring.instruments import Instrument
from inventory.compute.numbers.units import Unit
from inventory.models import Person
from tests import builders
from tests.browser import race_night
from tests.builders import rule

pytestmark = pytest.mark.django_db
RULES = (
    rule("1", "weight_car", lower=80, upper=90),
    rule("2", "clearance_rear", lower=1),
    rule("3", "motor_sealed", required=Answer.YES),
    rule("4", "tyre_width_rear", upper=10),
    rule("5", "guide_lead", upper=110),
)
BAD = {
    "weight_car": "78.5",
    "clearance_rear": "no",
    "motor_sealed": "no",
    "tyre_width_rear": "10.25",
    "guide_lead": "112",
}
GOOD = {
    "weight_car": "85.0",
    "clearance_rear": "yes",
    "motor_sealed": "yes",
    "tyre_width_rear": "9.50",
    "guide_lead": "100",
}


@pytest.fixture
def scrutineer() -> Person:
    return builders.make_scrutineer()


@pytest.fixture
def browser(scrutineer: Person, client_of: Callable[[Person], Client]) -> Client:
    return client_of(scrutineer)


def sealed(
    by: Person,
    values: dict[str, str],
    rules: tuple[RuleText, ...] = RULES,
    *,
    decision_rule: DecisionRule = DecisionRule.SIMPLE_ACCEPTANCE,
    decision: Decision = Decision.SENT_BACK,
) -> Sheet:
    edition = builders.make_edition(rules, decision_rule=decision_rule)
    entry = builders.make_entry(night=builders.make_night(edition))
    sheet = builders.make_sheet(entry=entry, by=by)
    caliper = builders.make_gauge()
    scale = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    for column, text in values.items():
        is_answer = text in {"yes", "no"}
        is_slip = is_answer and column.startswith("clearance")
        builders.read(
            sheet,
            column,
            "1.00" if is_slip else "" if is_answer else text,
            answer=Answer(text) if is_answer else None,
            gauge=scale if column == "weight_car" else caliper,
            by=by,
            is_confirmed=True,
        )
    seal_sheet(sheet.number, decision=decision, act=builders.act(by, minutes=3))
    return Sheet.objects.get(pk=sheet.pk)


def page_of(browser: Client, sheet: Sheet) -> str:
    return browser.get(f"/sheet/{sheet.number}").content.decode()


def why_of(page: str) -> str:
    start = page.index('<section class="record-why"')
    words = re.sub(
        r"<svg.*?</svg>|<[^>]*>", " ", page[start : page.index("</section>", start)]
    )
    return " ".join(unescape(words).split())


def file_of(browser: Client, sheet: Sheet) -> bytes:
    return browser.get(f"/sheet/{sheet.number}/file").content


def test_page_says_first_why_by_how_much_and_what_to_do(
    browser: Client, scrutineer: Person
) -> None:
    page = page_of(browser, sealed(scrutineer, BAD))
    marks = (
        "record-why",
        "why-picture",
        "record-qr",
        "record-findings",
        "record-readings",
    )
    places = [page.index(f'class="{mark}"') for mark in marks]
    assert places == sorted(places)
    said = why_of(page)
    for sentence in (
        (
            "Rule 1: Rule 1 Weight, ready to race: 78.5 g, 1.5 g outside; allowed "
            "80.0 to 90.0 g. Bring it up to 80.0 g or more: ballast."
        ),
        (
            "the 1.00 mm slip does not go under; at least 1.00 mm. Bring it up to "
            "1.00 mm or more: larger tyres, or a shim under the axle's bearings."
        ),
        "Motor sealed: no; it must be yes. Put it right so that the answer is yes.",
        (
            "0.25 mm outside; at most 10.00 mm. Bring it down to 10.00 mm or less: "
            "narrower tyres."
        ),
        "2.0 mm outside; at most 110.0 mm. Bring it down to 110.0 mm or less.",
    ):
        assert sentence in said, said
    assert page.count('class="why-picture"><svg') == 5


def test_doubt_is_said_in_words(browser: Client, scrutineer: Person) -> None:
    said = why_of(page_of(browser, sealed(scrutineer, BAD)))
    assert "How sure: the true value is within" in said
    assert "in 95 of 100 cases (u = " in said
    assert "It is outside by more than its doubt." in said


@pytest.mark.parametrize(
    ("decision_rule", "text", "sentence"),
    [
        (
            DecisionRule.SIMPLE_ACCEPTANCE,
            "10.01",
            "Nobody has the benefit of the doubt: the value as measured decides",
        ),
        (
            # 1.645: the normal quantile at 95 %, one-sided (JCGM 106:2012, 8.3.2).
            DecisionRule.GUARDED_ACCEPTANCE,
            "9.99",
            (
                "The doubt counts against the car: a value is admitted only when it is "
                "inside by at least 1.64 times its doubt u."
            ),
        ),
    ],
)
def test_near_the_limit_it_says_whose_the_doubt_is(
    browser: Client,
    scrutineer: Person,
    decision_rule: DecisionRule,
    text: str,
    sentence: str,
) -> None:
    rules = (rule("4", "tyre_width_rear", upper=10),)
    sheet = sealed(
        scrutineer, {"tyre_width_rear": text}, rules, decision_rule=decision_rule
    )
    said = why_of(page_of(browser, sheet))
    assert sentence in said
    near = "inside, too near to be sure" if text == "9.99" else "0.01 mm outside"
    assert near in said


def test_refused_for_certain_under_the_benefit_of_the_doubt(
    browser: Client, scrutineer: Person
) -> None:
    rule_of_doubt = DecisionRule.GUARDED_REJECTION
    sheet = sealed(scrutineer, BAD, decision_rule=rule_of_doubt)
    said = why_of(page_of(browser, sheet))
    assert "It is outside by more than its doubt." in said


def test_a_car_that_passed_is_told_nothing_to_do(
    browser: Client, scrutineer: Person
) -> None:
    sheet = sealed(scrutineer, GOOD, decision=Decision.PASSED)
    assert 'class="record-why"' not in page_of(browser, sheet)
    whole = json.loads(file_of(browser, sheet))
    assert whole["driver"] == []
    assert check_sheet.check(whole)[0] == []


def test_the_chiefs_word_is_the_why_where_nothing_is_broken(
    browser: Client, scrutineer: Person
) -> None:
    sheet = builders.make_sheet(by=scrutineer)
    builders.send_back(sheet.number, act=builders.act(minutes=3))
    said = why_of(page_of(browser, sheet))
    assert said.endswith("The rear wheels rub on the body.")


def test_file_says_it_before_all_else_and_is_checked_elsewhere(
    browser: Client, scrutineer: Person
) -> None:
    content = file_of(browser, sealed(scrutineer, BAD))
    assert content.startswith(b'{"driver":[{"rule":"1","says":["Rule 1:')
    whole: dict[str, Any] = check_sheet.read(content)
    differences, said = check_sheet.check(whole)
    assert differences == []
    assert said[0].startswith("Rule 1: Rule 1 Weight, ready to race: 78.5 g")
    whole["driver"] = whole["driver"][1:]
    differences, _ = check_sheet.check(whole)
    assert any("told of other rules" in one for one in differences)
    # A file of before there were such words.
    del whole["driver"]
    assert check_sheet.check(whole)[0] == []


def test_taken_and_worked_out_are_both_shown_and_which_decided(
    client_of: Callable[[Person], Client],
) -> None:
    club = race_night.make_club()
    sheet = race_night.make_sheet(club)
    browser = client_of(club.anna)
    race_night.take(club, sheet, race_night.GOOD)
    worked_out = page_of(browser, sheet)
    assert "disagree" not in worked_out
    race_night.take(club, sheet, {"clearance_gear": "2.50"})
    for page in (
        page_of(browser, sheet),
        browser.get(f"/sheet/{sheet.number}/block").content.decode(),
    ):
        found = re.search(r"aken 2\.50 mm and worked out (\d\.\d\d) mm disagree", page)
        assert found, page
        assert float(found[1]) < 2.0
        assert "disagree; the one taken decided" in page
