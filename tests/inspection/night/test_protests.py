"""Protests: who raises one, who hears it, other hands, the ruling and the appeal."""

import re

import pytest
from django.test import Client

from inspection.actions.race_nights import close_night
from inspection.actions.rulings.protests import (
    appeal,
    measure_again,
    name_hearer,
    raise_protest,
    rule_on_protest,
    set_protest_time,
)
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import reopen_car
from inspection.compute.night import (
    Decision,
    EntryState,
    ProtestRuling,
    Standing,
    is_in_time,
)
from inspection.compute.rulebooks import Answer
from inspection.loaders.night.reports import load_report
from inspection.models import Entry, Protest, ProtestRuled, Rule, Sheet
from inventory.actions.audit import Act
from inventory.actions.people.joining import add_person
from inventory.actions.refusals import RefusedError
from inventory.compute.measuring import Instrument
from inventory.compute.numbers import Unit
from inventory.compute.roles import Role
from inventory.models import GaugeMode, Person
from tests import builders
from tests.api.asking import given, script_of
from tests.conftest import listed, queries_of
from tests.inspection.night.test_list_pages import MOST

pytestmark = pytest.mark.django_db

CLAIM = "it looked lighter than the others"


@pytest.fixture
def scale() -> GaugeMode:
    return builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)


@pytest.fixture
def scrutineer() -> Person:
    return builders.make_scrutineer()


@pytest.fixture
def chief() -> Person:
    return builders.make_person(Role.CHIEF_SCRUTINEER)


def pass_weighed(scrutineer: Person, *scales: GaugeMode) -> Sheet:
    made = builders.make_sheet(by=scrutineer)
    for scale in scales:
        builders.read(made, "weight_car", "85", gauge=scale, by=scrutineer)
    caliper = builders.make_gauge()
    for side in ("left", "right"):
        builders.read(
            made, f"tyre_diameter_rear_{side}", "18.5", gauge=caliper, by=scrutineer
        )
    builders.read(made, "motor_sealed", answer=Answer.YES, by=scrutineer)
    seal_sheet(
        made.number, decision=Decision.PASSED, act=builders.act(scrutineer, minutes=3)
    )
    return made


@pytest.fixture
def sheet(scale: GaugeMode, scrutineer: Person) -> Sheet:
    return pass_weighed(scrutineer, scale)


@pytest.fixture
def rival(sheet: Sheet) -> Person:
    return builders.make_entry(night=sheet.entry.night).driver


@pytest.fixture
def rule(sheet: Sheet) -> Rule:
    return sheet.edition.rules.get(number="1")


@pytest.fixture
def protest(sheet: Sheet, rule: Rule, rival: Person) -> Protest:
    return raise_protest(
        sheet.entry_id, rule, claim=CLAIM, act=builders.act(rival, minutes=5)
    )


def rule_so(
    protest: Protest, ruling: ProtestRuling, by: Person, reason: str = CLAIM
) -> ProtestRuled:
    return rule_on_protest(
        protest.pk, ruling, reason=reason, act=builders.act(by, minutes=8)
    )


def test_time_to_protest_ends_with_its_last_moment() -> None:
    assert is_in_time(1800, minutes=30)
    assert not is_in_time(1800.000001, minutes=30)


def test_driver_of_the_night_protests_within_the_time_of_the_class(
    protest: Protest, sheet: Sheet, rule: Rule, rival: Person
) -> None:
    assert protest.sheet == sheet
    with pytest.raises(RefusedError) as refusal:
        raise_protest(
            sheet.entry_id, rule, claim=CLAIM, act=builders.act(rival, minutes=34)
        )
    assert refusal.value.code == "too_late"
    set_protest_time(sheet.entry.race_class, 60, act=builders.act())
    raise_protest(
        sheet.entry_id, rule, claim=CLAIM, act=builders.act(rival, minutes=34)
    )


def test_stranger_a_bare_word_and_a_foreign_rule_raise_no_protest(
    sheet: Sheet, rule: Rule, rival: Person
) -> None:
    foreign = builders.make_edition().rules.all()[0]
    for by, of, claim, code in (
        (builders.make_person(), rule, CLAIM, "not_of_the_night"),
        (rival, rule, "hm", "reason_missing"),
        (rival, foreign, CLAIM, "rule_of_another_edition"),
    ):
        with pytest.raises(RefusedError) as refusal:
            raise_protest(
                sheet.entry_id, of, claim=claim, act=builders.act(by, minutes=5)
            )
        assert refusal.value.code == code
    assert not Protest.objects.exists()


def test_car_without_a_sealed_sheet_is_protested_against_while_the_night_is_open(
    sheet: Sheet, rule: Rule, scrutineer: Person
) -> None:
    entry = builders.make_entry(night=sheet.entry.night)
    raised = raise_protest(
        entry.pk, rule, claim=CLAIM, act=builders.act(scrutineer, minutes=400)
    )
    assert raised.sheet is None
    close_night(entry.night, act=builders.act(minutes=401))
    with pytest.raises(RefusedError) as refusal:
        raise_protest(
            entry.pk, rule, claim=CLAIM, act=builders.act(scrutineer, minutes=402)
        )
    assert refusal.value.code == "night_closed"


def test_other_hands_and_another_gauge_measure_again(
    protest: Protest,
    sheet: Sheet,
    scale: GaugeMode,
    scrutineer: Person,
    chief: Person,
) -> None:
    again = measure_again(protest.pk, act=builders.act(chief, minutes=6))
    carried = set(again.readings.values_list("column", flat=True))
    assert "weight_car" not in carried
    assert "motor_sealed" in carried
    with pytest.raises(RefusedError) as refusal:
        builders.read(again, "weight_car", "84", gauge=scale, by=scrutineer)
    assert refusal.value.code == "same_hands"
    # With no other scale in the club, the one there is serves.
    builders.read(again, "weight_car", "78", gauge=scale, by=chief)
    other = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    with pytest.raises(RefusedError) as refusal:
        builders.read(again, "weight_car", "78", gauge=scale, by=chief)
    assert refusal.value.code == "same_gauge"
    assert other.gauge.name in refusal.value.sentence
    with pytest.raises(RefusedError) as refusal:
        rule_so(protest, ProtestRuling.UPHELD, chief)
    assert refusal.value.code == "still_measured"
    seal_sheet(
        again.number, decision=Decision.SENT_BACK, act=builders.act(chief, minutes=7)
    )
    rule_so(protest, ProtestRuling.UPHELD, chief)
    assert Entry.objects.get(pk=sheet.entry_id).state == EntryState.SENT_BACK
    assert again.previous == sheet
    with pytest.raises(RefusedError) as refusal:
        rule_so(protest, ProtestRuling.REJECTED, chief)
    assert refusal.value.code == "ruled_already"


def offered(page: str) -> tuple[list[str], str]:
    """Give the gauges that a page of the block offers, and the one that it chose."""
    select = re.search(r'<select id="id_gauge".*?</select>', page, re.DOTALL)
    assert select is not None
    options = re.findall(r'<option value="(\d+)"( selected)?', select[0])
    return [pk for pk, _ in options], next((pk for pk, is_on in options if is_on), "")


def test_gauge_of_the_first_sheet_is_not_chosen_for_the_protest(
    protest: Protest, scale: GaugeMode, chief: Person
) -> None:
    """Nor where the device remembers it: the reading would be refused."""
    again = measure_again(protest.pk, act=builders.act(chief, minutes=6))
    client, script = Client(), script_of(chief)
    client.force_login(chief)
    session = client.session
    session["gauges"] = {"scale": scale.gauge_id}
    session.save()
    address = f"/sheet/{again.number}/block?column=weight_car"

    def told_by_api() -> tuple[list[int], str]:
        steps = given(script.get(f"sheets/{again.number}"))["steps"]
        step = next(one for one in steps if one["column"] == "weight_car")
        return step["gauges"], step["gauges_note"]

    # The only scale of the club is offered, with the reason.
    page = client.get(address).content.decode()
    assert offered(page) == ([str(scale.pk)], str(scale.pk))
    why = f"{scale.gauge.name} read it on the sheet that is protested against; there"
    assert why in page
    gauges, note = told_by_api()
    assert gauges == [scale.pk]
    assert note.startswith(why)
    other = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    page = client.get(address).content.decode()
    assert offered(page) == ([str(other.pk)], str(other.pk))
    assert f"Not offered for the protest: {scale.gauge.name}" in page
    gauges, note = told_by_api()
    assert gauges == [other.pk]
    assert note.startswith(f"Not offered for the protest: {scale.gauge.name}")


def test_of_two_kinds_the_one_that_read_it_comes_last(
    sheet: Sheet, rival: Person, chief: Person
) -> None:
    raised = raise_protest(
        sheet.entry_id,
        sheet.edition.rules.get(number="2"),
        claim=CLAIM,
        act=builders.act(rival, minutes=5),
    )
    again = measure_again(raised.pk, act=builders.act(chief, minutes=6))
    caliper = sheet.readings.get(column="tyre_diameter_rear_left").gauge_mode
    assert caliper is not None
    micrometer = builders.make_gauge(instrument=Instrument.MICROMETER)
    client = Client()
    client.force_login(chief)
    session = client.session
    session["gauges"] = {"caliper": caliper.gauge_id}
    session.save()
    address = f"/sheet/{again.number}/block?column=tyre_diameter_rear_left"
    order = [str(micrometer.pk), str(caliper.pk)]
    assert offered(client.get(address).content.decode()) == (order, order[0])
    builders.read(again, "tyre_diameter_rear_left", "18.5", gauge=caliper, by=chief)


def test_two_gauges_that_both_read_it_are_no_way_out_for_each_other(
    scale: GaugeMode, scrutineer: Person, chief: Person
) -> None:
    """Where the first sheet used every scale there is, one of them reads again."""
    scales = [scale, builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)]
    first = pass_weighed(scrutineer, *scales)
    raised = raise_protest(
        first.entry_id,
        first.edition.rules.get(number="1"),
        claim=CLAIM,
        act=builders.act(first.entry.driver, minutes=5),
    )
    again = measure_again(raised.pk, act=builders.act(chief, minutes=6))
    for one in scales:
        builders.read(again, "weight_car", "84", gauge=one, by=chief)
    fresh = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    for one in scales:
        with pytest.raises(RefusedError) as refusal:
            builders.read(again, "weight_car", "84", gauge=one, by=chief)
        assert fresh.gauge.name in refusal.value.sentence


def test_whoever_is_concerned_does_not_hear_it(
    sheet: Sheet, rule: Rule, chief: Person, rival: Person
) -> None:
    raised = raise_protest(
        sheet.entry_id, rule, claim=CLAIM, act=builders.act(chief, minutes=5)
    )
    with pytest.raises(RefusedError) as refusal:
        rule_so(raised, ProtestRuling.UPHELD, chief)
    assert refusal.value.code == "not_the_hearer"
    with pytest.raises(RefusedError) as refusal:
        name_hearer(raised.pk, chief, act=builders.act(minutes=6))
    assert refusal.value.field == "person"
    name_hearer(raised.pk, rival, act=builders.act(minutes=6))
    other_chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    with pytest.raises(RefusedError):
        rule_so(raised, ProtestRuling.UPHELD, other_chief)
    assert rule_so(raised, ProtestRuling.REJECTED, rival).by == rival
    with pytest.raises(RefusedError) as refusal:
        name_hearer(raised.pk, rival, act=builders.act(minutes=9))
    assert refusal.value.code == "ruled_already"


def test_who_is_named_to_hear_is_told_until_it_is_ruled(
    sheet: Sheet, rule: Rule, chief: Person, protest: Protest
) -> None:
    first, second = builders.make_person(), builders.make_person()
    raised = raise_protest(
        sheet.entry_id, rule, claim=CLAIM, act=builders.act(chief, minutes=5)
    )
    words = f"hear the protest against car {sheet.entry.number}, rule 1"

    def told(person: Person) -> list[bool]:
        client = Client()
        client.force_login(person)
        texts = [client.get(page).content.decode() for page in ("/", "/mine")]
        link = f'href="/protest/{raised.pk}"'
        return [words in text and link in text for text in texts]

    assert told(first) == [False, False]
    name_hearer(raised.pk, first, act=builders.act(minutes=6))
    assert told(first) == [True, True]
    assert told(chief) == [False, False]
    # Somebody else is named in their place.
    name_hearer(raised.pk, second, act=builders.act(minutes=7))
    assert told(first) == [False, False]
    assert told(second) == [True, True]
    builders.make_night()
    # Another night is on the board now, and the protest is still to be heard.
    assert told(second) == [False, True]
    rule_so(raised, ProtestRuling.REJECTED, second)
    assert told(second) == [False, False]


def test_tonight_with_a_protest_to_hear_asks_twelve_things_at_most(
    sheet: Sheet, rule: Rule, chief: Person
) -> None:
    raised = raise_protest(
        sheet.entry_id, rule, claim=CLAIM, act=builders.act(chief, minutes=5)
    )
    hearer = builders.make_person(*Role)
    name_hearer(raised.pk, hearer, act=builders.act(minutes=6))
    client = Client()
    client.force_login(hearer)
    client.get("/")
    asked = queries_of(lambda: client.get("/"))
    assert len(asked) <= MOST, listed(asked)


def test_protester_alone_withdraws(
    protest: Protest, rival: Person, chief: Person
) -> None:
    with pytest.raises(RefusedError) as refusal:
        rule_so(protest, ProtestRuling.WITHDRAWN, chief)
    assert refusal.value.code == "not_the_protester"
    with pytest.raises(RefusedError) as refusal:
        rule_so(protest, ProtestRuling.WITHDRAWN, rival, reason="hm")
    assert refusal.value.field == "reason"
    rule_so(protest, ProtestRuling.WITHDRAWN, rival)


def test_appeal_is_a_second_protest_heard_by_somebody_else(
    protest: Protest, rival: Person, chief: Person
) -> None:
    with pytest.raises(RefusedError) as refusal:
        appeal(protest.pk, claim=CLAIM, act=builders.act(rival, minutes=7))
    assert refusal.value.code == "no_appeal"
    rule_so(protest, ProtestRuling.REJECTED, chief)
    for by, minutes, code in (
        (builders.make_person(), 9, "not_part_of_it"),
        (rival, 99, "too_late"),
    ):
        with pytest.raises(RefusedError) as refusal:
            appeal(protest.pk, claim=CLAIM, act=builders.act(by, minutes=minutes))
        assert refusal.value.code == code
    second = appeal(protest.pk, claim=CLAIM, act=builders.act(rival, minutes=9))
    with pytest.raises(RefusedError):
        appeal(protest.pk, claim=CLAIM, act=builders.act(rival, minutes=9))
    with pytest.raises(RefusedError) as refusal:
        rule_so(second, ProtestRuling.REJECTED, chief)
    assert refusal.value.code == "not_the_hearer"
    rule_so(second, ProtestRuling.UPHELD, builders.make_person(Role.CHIEF_SCRUTINEER))


def test_who_is_named_to_hear_opens_the_sheet_and_a_concerned_chief_is_told(
    sheet: Sheet, protest: Protest, chief: Person
) -> None:
    named, other, page = Client(), Client(), Client()
    hearer = builders.make_person()
    named.force_login(hearer)
    other.force_login(builders.make_person())
    page.force_login(chief)
    record = f"/sheet/{sheet.number}"
    assert named.get(record).status_code == 404
    admin = builders.make_admin()
    rule_so(protest, ProtestRuling.REJECTED, chief)
    act = builders.act(protest.by, minutes=9)
    second = appeal(protest.pk, claim=CLAIM, act=act)
    told = "you are concerned: the admin names somebody else"
    assert told in page.get(f"/protest/{second.pk}").content.decode()
    name_hearer(second.pk, hearer, act=builders.act(admin, minutes=10))
    answer = named.get(record)
    assert answer.status_code == 200
    assert re.search(rf"{second}.*?· appeal", answer.content.decode(), re.DOTALL)
    assert not re.search(
        r"· appeal.*?" + str(second), answer.content.decode(), re.DOTALL
    )
    assert other.get(record).status_code == 404


@pytest.mark.parametrize(
    ("first", "at_appeal", "is_upheld"),
    [
        (ProtestRuling.UPHELD, None, True),
        (ProtestRuling.REJECTED, None, False),
        (ProtestRuling.UPHELD, ProtestRuling.REJECTED, True),
        (ProtestRuling.UPHELD, ProtestRuling.UPHELD, False),
        (ProtestRuling.REJECTED, ProtestRuling.UPHELD, True),
        (ProtestRuling.REJECTED, ProtestRuling.WITHDRAWN, False),
    ],
)
def test_upheld_protest_keeps_a_car_in_question_until_it_is_checked_again(
    sheet: Sheet,
    protest: Protest,
    chief: Person,
    first: ProtestRuling,
    at_appeal: ProtestRuling | None,
    *,
    is_upheld: bool,
) -> None:
    """An upheld appeal turns the ruling that it is against."""
    rule_so(protest, first, chief)
    page = f"/protest/{protest.pk}"
    other_chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    if at_appeal:
        act = builders.act(protest.by, minutes=8)
        second = appeal(protest.pk, claim=CLAIM, act=act)
        withdraws = at_appeal is ProtestRuling.WITHDRAWN
        rule_so(second, at_appeal, protest.by if withdraws else other_chief)
    night = sheet.entry.night
    desk, driver = Client(), Client()
    desk.force_login(other_chief)
    driver.force_login(sheet.entry.driver)

    def pages() -> list[bool]:
        said = "a protest was upheld: to be checked again"
        (line,) = [
            one
            for one in load_report(night, builders.act(minutes=20).at).lines
            if one.entry.pk == sheet.entry_id
        ]
        return [
            said in desk.get(f"/night/{night.pk}").content.decode(),
            said in line.why,
            line.standing is Standing.IN_QUESTION,
            "A protest was upheld." in driver.get("/mine").content.decode(),
            "the ruling moves no car" in desk.get(page).content.decode(),
        ]

    assert pages() == [is_upheld] * 5
    reopen_car(
        sheet.entry_id,
        reason="the protest was upheld",
        stands=set(),
        block=None,
        act=builders.act(other_chief, minutes=12),
    )
    assert pages() == [False] * 5


def test_board_counts_the_protests_that_wait_for_a_ruling(
    protest: Protest, chief: Person
) -> None:
    desk, night = Client(), protest.entry.night_id
    desk.force_login(chief)

    def link() -> str:
        page = desk.get(f"/night/{night}").content.decode()
        found = re.search(rf'href="/night/{night}/protests">([^<]*)<', page)
        assert found is not None
        return found[1].strip()

    assert link() == "Protests, 1 not ruled"
    rule_so(protest, ProtestRuling.REJECTED, chief)
    assert link() == "Protests"


def test_protest_goes_its_way_by_pages() -> None:
    """In real time, by which the pages go."""
    sealed = builders.make_sheet()
    now = Act(by=builders.make_admin(), at=builders.now())
    builders.send_back(sealed.number, act=now)
    rival = builders.make_entry(night=sealed.entry.night).driver
    driver, chief, admin, owner = Client(), Client(), Client(), Client()
    driver.force_login(rival)
    chief.force_login(builders.make_person(Role.CHIEF_SCRUTINEER))
    admin.force_login(builders.make_admin())
    owner.force_login(sealed.entry.car.owner)
    against = f"/entry/{sealed.entry_id}/protest"
    nights = f"/night/{sealed.entry.night_id}/protests"
    assert against in driver.get(nights).content.decode()
    rule = sealed.edition.rules.get(number="1")
    assert rule.sentence in driver.get(against).content.decode()
    refused = driver.post(against, {"rule": rule.pk, "claim": "hm"})
    assert refused.status_code == 422
    assert "hm" in refused.content.decode()
    driver.post(against, {"rule": rule.pk, "claim": CLAIM})
    raised = Protest.objects.get()
    page = f"/protest/{raised.pk}"
    assert CLAIM in owner.get(page).content.decode()
    for client, offered in (
        (driver, ["withdrawn"]),
        (chief, ["upheld", "rejected"]),
        (owner, []),
    ):
        words = client.get(page).content.decode()
        assert re.findall(r'name="ruling" value="(\w+)"', words) == offered
    record = f"/sheet/{sealed.number}"
    assert str(raised) in owner.get(record).content.decode()
    assert "1 protest not ruled" in chief.get("/").content.decode()
    stranger = Client()
    stranger.force_login(builders.make_person())
    assert stranger.get(page).status_code == 404
    assert chief.post(f"{page}/measure").status_code == 302
    admin.post(f"{page}/hearer", {"person": rival.pk})
    assert (
        "owns or drives"
        in admin.post(f"{page}/hearer", {"person": rival.pk}).content.decode()
    )
    assert chief.post(f"{page}/rule", {"ruling": "upheld"}).status_code == 422
    listed = f"/night/{sealed.entry.night_id}/list"
    assert "not ruled yet" in chief.get(listed).content.decode()
    chief.post(f"{page}/rule", {"ruling": "rejected", "reason": CLAIM})
    for client in (chief, driver, owner):
        words = client.get(listed).content.decode()
        assert "rejected" in words
        assert page in words
    assert page not in stranger.get(listed).content.decode()
    assert "rejected" in owner.get(record).content.decode()
    assert driver.post(f"{page}/appeal", {"claim": "hm"}).status_code == 422
    driver.post(f"{page}/appeal", {"claim": CLAIM})
    assert Protest.objects.filter(appeal_of=raised).exists()
    bad = chief.post(f"{nights}/time", {"minutes": 0})
    assert bad.status_code == 422
    race_class = sealed.entry.race_class_id
    chief.post(f"{nights}/time", {"race_class": race_class, "minutes": 45})
    assert "45 min" in driver.get(nights).content.decode()


def test_who_may_hear_can_sign_in_and_is_told_from_a_namesake(
    protest: Protest,
) -> None:
    namesakes = [builders.make_person(name="Di Marl") for _ in range(2)]
    guest = add_person(
        sign_in_name="guest-1", name="Gil", password=None, roles=(), act=builders.act()
    )
    admin = Client()
    admin.force_login(builders.make_person(Role.ADMIN, Role.SCRUTINEER))
    page = admin.get(f"/protest/{protest.pk}").content.decode()
    offered = dict(re.findall(r'<option value="(\d+)"[^>]*>([^<]+)<', page))
    for one in namesakes:
        assert offered[str(one.pk)] == f"Di Marl ({one.sign_in_name})"
    assert str(guest.pk) not in offered
