"""Seals: who may sign what, the chain, and the walk along it."""

import zlib

import pytest

from inspection.actions.race_nights import call_back
from inspection.actions.seals import first_broken_seal, seal_sheet
from inspection.compute.judging.outcomes import Outcome
from inspection.compute.night.chains import chained_hash
from inspection.compute.night.entries import Decision, EntryState
from inspection.compute.rulebooks.requirements import Answer
from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.models import Entry, Finding, RaceNight, Seal, SealContent, Sheet
from inventory.actions.refusals import RefusedError
from inventory.compute.measuring.instruments import Instrument
from inventory.compute.numbers.units import Unit
from inventory.compute.roles import Role
from inventory.models import AuditRow, Person
from tests import builders
from tests.lifted import guards_lifted

pytestmark = pytest.mark.django_db


@pytest.fixture
def scrutineer() -> Person:
    return builders.make_scrutineer()


@pytest.fixture
def sheet(scrutineer: Person) -> Sheet:
    return builders.make_sheet(by=scrutineer)


def measure(sheet: Sheet, *, weight: str = "85") -> None:
    scale = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    caliper = builders.make_gauge()
    builders.read(sheet, "weight_car", weight, gauge=scale)
    for side in ("left", "right"):
        builders.read(sheet, f"tyre_diameter_rear_{side}", "18.5", gauge=caliper)
    builders.read(sheet, "motor_sealed", answer=Answer.YES)


def test_car_that_meets_every_rule_passes(sheet: Sheet, scrutineer: Person) -> None:
    measure(sheet)
    seal = seal_sheet(
        sheet.number, decision=Decision.PASSED, act=builders.act(scrutineer)
    )
    assert Entry.objects.get(pk=sheet.entry_id).state == EntryState.PASSED
    assert set(Finding.objects.values_list("outcome", flat=True)) == {Outcome.PASS}
    assert (seal.sequence, seal.previous_sha256) == (1, "")
    assert seal.sha256 == chained_hash("", seal.content)
    assert AuditRow.objects.filter(event="sheet.sealed").count() == 1


def test_car_with_a_rule_not_measured_cannot_pass(
    sheet: Sheet, scrutineer: Person
) -> None:
    with pytest.raises(RefusedError) as refusal:
        seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(scrutineer))
    assert refusal.value.code == "rules_not_admitted"
    assert "not measured" in refusal.value.sentence
    assert not Seal.objects.exists()
    assert not Finding.objects.exists()


def test_car_below_a_limit_is_sent_back_with_its_margin(
    sheet: Sheet, scrutineer: Person
) -> None:
    measure(sheet, weight="78.5")
    seal_sheet(sheet.number, decision=Decision.SENT_BACK, act=builders.act(scrutineer))
    finding = Finding.objects.get(rule__number="1")
    assert finding.outcome == Outcome.FAIL
    assert finding.margin == -1_500_000
    assert Entry.objects.get(pk=sheet.entry_id).state == EntryState.SENT_BACK


def test_second_seal_is_told_who_was_first(sheet: Sheet, scrutineer: Person) -> None:
    builders.send_back(sheet.number, act=builders.act(scrutineer))
    with pytest.raises(RefusedError) as refusal:
        builders.send_back(sheet.number, act=builders.act())
    assert refusal.value.code == "sheet_sealed"
    assert Seal.objects.count() == 1


@pytest.mark.parametrize("as_driver", [False, True])
def test_scrutineer_never_seals_a_car_of_their_own(
    scrutineer: Person, *, as_driver: bool
) -> None:
    builders.make_scrutineer()
    car = builders.make_car(owner=None if as_driver else scrutineer)
    entry = builders.make_entry(car=car, driver=scrutineer if as_driver else None)
    sheet = builders.make_sheet(entry=entry)
    with pytest.raises(RefusedError) as refusal:
        seal_sheet(
            sheet.number, decision=Decision.SENT_BACK, act=builders.act(scrutineer)
        )
    assert refusal.value.code == "own_car"


def test_only_scrutineer_of_a_club_seals_own_car_and_it_is_marked() -> None:
    chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    sheet = builders.make_sheet(
        entry=builders.make_entry(car=builders.make_car(owner=chief))
    )
    seal = builders.send_back(sheet.number, act=builders.act(chief))
    assert seal.is_own_car


def test_chain_of_a_night_holds_and_a_changed_link_shows(scrutineer: Person) -> None:
    night = builders.make_night()
    for _ in range(3):
        sheet = builders.make_sheet(entry=builders.make_entry(night=night))
        builders.send_back(sheet.number, act=builders.act(scrutineer))
    assert first_broken_seal(night) is None
    second = Seal.objects.get(sequence=2)
    changed = SealContent.of(second, second.content.replace("fail", "pass") + " ")
    with guards_lifted(SealContent):
        SealContent.objects.filter(seal=second).update(packed=changed.packed)
    assert first_broken_seal(night) == second


def test_seal_keeps_its_text_compressed_and_to_the_letter(
    sheet: Sheet, scrutineer: Person
) -> None:
    seal = builders.send_back(sheet.number, act=builders.act(scrutineer))
    packed = bytes(SealContent.objects.get(seal=seal).packed)
    # Any program that reads RFC 1950 gives the text back that the hash is over.
    text = zlib.decompressobj().decompress(packed)
    assert seal.sha256 == chained_hash("", text.decode())
    assert len(packed) < len(text) / 2


def test_sealed_sheet_gives_the_same_findings_again(
    sheet: Sheet, scrutineer: Person
) -> None:
    """R12: from the seal's content alone, to the digit."""
    measure(sheet, weight="80.03")
    before = load_sheet(sheets_to_load().get(pk=sheet.pk)).findings
    seal_sheet(sheet.number, decision=Decision.PASSED, act=builders.act(scrutineer))
    after = load_sheet(sheets_to_load().get(pk=sheet.pk)).findings
    assert [(f.outcome, f.value, f.u_value, f.margin) for f in before] == [
        (f.outcome, f.value, f.u_value, f.margin) for f in after
    ]


def test_name_is_in_the_seal_only_as_a_hash(sheet: Sheet, scrutineer: Person) -> None:
    seal = builders.send_back(sheet.number, act=builders.act(scrutineer))
    assert scrutineer.name not in seal.content
    assert sheet.entry.car.owner.name not in seal.content


def test_recheck_carries_over_what_need_not_be_taken_again(
    sheet: Sheet, scrutineer: Person
) -> None:
    measure(sheet, weight="78.5")
    builders.send_back(sheet.number, act=builders.act(scrutineer))
    call_back(sheet.entry_id, act=builders.act())
    again = builders.make_sheet(entry=sheet.entry)
    carried = {r.column: r for r in again.readings.select_related("carried_from")}
    assert set(carried) == {
        "tyre_diameter_rear_left",
        "tyre_diameter_rear_right",
        "motor_sealed",
    }
    for row in carried.values():
        assert row.carried_from is not None
        assert row.carried_from.sheet_id == sheet.pk
        assert row.taken_at == row.carried_from.taken_at
    assert again.previous_id == sheet.pk
    loaded = load_sheet(sheets_to_load().get(pk=again.pk))
    assert loaded.waiting_columns == ("weight_car",)


def test_night_of_two_seals_keeps_one_place_each(scrutineer: Person) -> None:
    night = builders.make_night()
    for _ in range(2):
        sheet = builders.make_sheet(entry=builders.make_entry(night=night))
        builders.send_back(sheet.number, act=builders.act(scrutineer))
    found = RaceNight.objects.get(pk=night.pk).seals.values_list("sequence", flat=True)
    assert list(found) == [1, 2]
