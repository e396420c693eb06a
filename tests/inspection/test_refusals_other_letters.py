"""
What actions refuse, in a language of letters that are not ours.

A word of an enumeration in a sentence is looked up like the sentence; what is left in
our letters went through no mark.
"""

from collections.abc import Callable
from typing import Final

import pytest

from inspection.actions.cars import retire_car
from inspection.actions.fit.on_car import fitted_at, put_on, swap_sides
from inspection.actions.race_nights import withdraw_entry
from inspection.actions.remedies import hand_out_remedy
from inspection.actions.rulings.protests import raise_protest, rule_on_protest
from inspection.actions.seals import seal_sheet
from inspection.compute.night import Axle, Decision, PartPosition, ProtestRuling
from inspection.models import Car
from inventory.actions.corrections.facts import PartCorrection, correct_part
from inventory.actions.drafts import NewDraft, upload_draft
from inventory.actions.gauges import ModeFigures, add_mode
from inventory.actions.people.erasing import erase_person
from inventory.actions.people.links import open_link
from inventory.actions.people.roles import give_role, take_role
from inventory.actions.people.tokens import make_token
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import hand_out_part, reserve_part, retire_part
from inventory.compute.batches import BatchSource
from inventory.compute.measuring import CheckResult, Instrument
from inventory.compute.measuring import GaugeMode as Mode
from inventory.compute.numbers import Unit
from inventory.compute.roles import Role
from inventory.compute.stock import FactValue, GearFacts, GearRole, GuideFacts
from inventory.compute.tokens import Scope
from inventory.models import Part
from tests import builders
from tests.browser.long_words import left_in_ours, speak_in_other_letters

pytestmark = pytest.mark.django_db

REASON: Final = "it looked lighter than the others"
LEFT: Final = PartPosition.REAR_LEFT


def of_another_unit() -> None:
    sheet, scale = builders.make_sheet(), builders.make_gauge(unit=Unit.OHM)
    builders.read(sheet, "weight_car", "92", gauge=scale)


def of_a_barred_gauge() -> None:
    gauge = builders.make_gauge(checked=CheckResult.FAILED)
    builders.read(builders.make_sheet(), "tyre_diameter_rear_left", "18", gauge=gauge)


def of_no_gauge() -> None:
    builders.make_gauge(
        instrument=Instrument.SCALE, unit=Unit.GRAM, checked=CheckResult.FAILED
    )
    builders.read(builders.make_sheet(), "weight_car", "92")


def of_a_mode_twice() -> None:
    gauge = builders.make_gauge().gauge
    figures = ModeFigures(
        mode=Mode.OUTSIDE, unit=Unit.MILLIMETRE, resolution=1, max_permissible_error=1
    )
    add_mode(gauge, figures, act=builders.act())


def of_a_rule_not_read() -> None:
    number = builders.make_sheet().number
    seal_sheet(number, decision=Decision.PASSED, act=builders.act(minutes=1))


def of_a_sheet_sealed_twice() -> None:
    sheet = builders.make_sheet()
    scale = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    builders.read(sheet, "weight_car", "70", gauge=scale)
    builders.seal_as_read(sheet, by=builders.make_admin())
    again = builders.make_sheet(entry=sheet.entry)
    builders.seal_as_read(again, by=builders.make_admin())


def of_a_protest_ruled_twice() -> None:
    sheet = builders.make_sheet()
    builders.send_back(sheet.number, act=builders.act(minutes=2))
    rival = builders.make_entry(night=sheet.entry.night).driver
    rule = sheet.edition.rules.get(number="1")
    protest = raise_protest(
        sheet.entry_id, rule, claim=REASON, act=builders.act(rival, minutes=5)
    )
    chief = builders.act(builders.make_person(Role.CHIEF_SCRUTINEER), minutes=8)
    for _turn in range(2):
        rule_on_protest(protest.pk, ProtestRuling.REJECTED, reason=REASON, act=chief)


def of_an_axle_without_two_tyres() -> None:
    swap_sides(builders.make_car(), Axle.REAR, act=builders.act())


def of_nothing_in_a_place() -> None:
    fitted_at(builders.make_car(), LEFT)


def of_a_day_before_the_last() -> None:
    car, act = builders.make_car(), builders.act()
    builders.fit(car, builders.make_part())
    early = act.at.replace(year=act.at.year - 1)
    put_on(car, builders.make_part(), LEFT, since=early, act=act)


def of_a_part_on_another_car() -> None:
    part = builders.make_part()
    builders.fit(builders.make_car(), part)
    put_on(builders.make_car(), part, LEFT, act=builders.act())


def of_a_part_that_is_reserved() -> None:
    part = builders.make_part()
    reserve_part(part, act=builders.act(builders.make_person()))
    put_on(builders.make_car(), part, LEFT, act=builders.act())


def of_a_part_with_somebody() -> None:
    part = builders.make_part()
    hand_out_part(part, builders.make_person(), act=builders.act())
    put_on(builders.make_car(), part, LEFT, act=builders.act())


def of_a_part_of_somebody() -> None:
    part = builders.make_part(owner=builders.make_person())
    put_on(builders.make_car(), part, LEFT, act=builders.act())


def of_a_retired_part() -> None:
    part = builders.make_part()
    retire_part(part, reason=REASON, act=builders.act())
    put_on(builders.make_car(), part, LEFT, act=builders.act())


def of_a_part_that_is_not_free() -> None:
    part = builders.make_part()
    retire_part(part, reason=REASON, act=builders.act())
    reserve_part(part, act=builders.act())


def of_no_remedy() -> None:
    sheet = builders.make_sheet()
    builders.send_back(sheet.number, act=builders.act(minutes=2))
    guide = builders.make_part(GuideFacts())
    hand_out_remedy(sheet.number, [guide.tag], act=builders.act(minutes=3))


def of_three_tyres() -> None:
    sheet = builders.make_sheet()
    builders.send_back(sheet.number, act=builders.act(minutes=2))
    tags = [builders.make_part().tag for _number in range(3)]
    hand_out_remedy(sheet.number, tags, act=builders.act(minutes=3))


def of_a_fact_of_a_crown() -> None:
    spur = builders.make_part(GearFacts(role=GearRole.SPUR, teeth=28))
    facts: dict[str, FactValue] = {
        "role": GearRole.SPUR,
        "teeth": 28,
        "cut_for_teeth": 9,
    }
    said = PartCorrection(
        name="", drawer="", version=spur.version, facts=facts, reason=REASON
    )
    correct_part(spur, said, act=builders.act())


def of_a_role_held() -> None:
    give_role(builders.make_scrutineer(), Role.SCRUTINEER, act=builders.act())


def of_a_role_not_held() -> None:
    take_role(builders.make_person(), Role.SCRUTINEER, act=builders.act())


def of_a_scope_above_a_member() -> None:
    act = builders.act(builders.make_person())
    make_token("reader", Scope.READINGS, days=1, act=act)


def of_a_car_on_the_block() -> None:
    builders.make_sheet(entry=builders.make_sheet().entry)


def of_a_car_entered_tonight() -> None:
    retire_car(builders.make_entry().car, act=builders.act())


def of_a_withdrawal_without_a_reason() -> None:
    withdraw_entry(builders.make_entry().pk, reason=" ", act=builders.act())


def of_a_link_that_is_not_ours() -> None:
    open_link("none", at=builders.NOW)


def of_an_empty_file() -> None:
    new = NewDraft(name="", content=b"", source=BatchSource.PASTED)
    upload_draft(new, act=builders.act())


def of_somebody_with_parts() -> None:
    person = builders.make_person()
    hand_out_part(builders.make_part(), person, act=builders.act())
    erase_person(person, act=builders.act())


@pytest.mark.parametrize(
    "refused",
    [
        of_another_unit,
        of_a_barred_gauge,
        of_no_gauge,
        of_a_mode_twice,
        of_a_rule_not_read,
        of_a_sheet_sealed_twice,
        of_a_protest_ruled_twice,
        of_an_axle_without_two_tyres,
        of_nothing_in_a_place,
        of_a_day_before_the_last,
        of_a_part_on_another_car,
        of_a_part_that_is_reserved,
        of_a_part_with_somebody,
        of_a_part_of_somebody,
        of_a_retired_part,
        of_a_part_that_is_not_free,
        of_no_remedy,
        of_three_tyres,
        of_a_fact_of_a_crown,
        of_a_role_held,
        of_a_role_not_held,
        of_a_scope_above_a_member,
        of_a_car_on_the_block,
        of_a_car_entered_tonight,
        of_a_withdrawal_without_a_reason,
        of_a_link_that_is_not_ours,
        of_an_empty_file,
        of_somebody_with_parts,
    ],
)
def test_words_in_a_refusal_are_marked(
    refused: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    # What is made in passing is said in ours; a gauge is called what it was called.
    speak_in_other_letters(monkeypatch)
    with pytest.raises(RefusedError) as refusal:
        refused()
    names = {"Car", "Person", "The", "Founder", "Night", "caliper", "scale"}
    said = refusal.value.sentence
    # A tag is in our letters in any language, and can have three in a row.
    for model in (Part, Car):
        for tag in model.objects.values_list("tag", flat=True):
            said = said.replace(tag, "")
    assert set(left_in_ours(said)) - names == set()
