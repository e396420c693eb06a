"""
Sentences about what computing found, in a language of letters that are not ours.

What is left in our letters went through no mark, and stays English in each language.
"""

import io
import zipfile
from itertools import product

import pytest

from inspection.compute.fit import (
    MOUNTING_SIZES,
    Bored,
    Check,
    CheckRow,
    CheckState,
    KindsOfGear,
    ToMeasure,
    TwoPitches,
)
from inspection.compute.jig import BuildCheck, BuildRow, JigSheet, ShimStack
from inspection.compute.night import EntryState, MoveRefusedError, check_move
from inspection.compute.quantities import QUANTITIES, FrontCarrier
from inspection.compute.remedies import Wish, Work, WorkRemedy
from inspection.compute.rulebooks import (
    Contradiction,
    Fault,
    Limit,
    Part,
    PartChange,
    Said,
    Stage,
    Tends,
    Unmeetable,
)
from inspection.files.archive.package import DESCRIPTOR
from inspection.files.archive.refused import ArchiveRefusedError
from inspection.files.archive.unpacking import Archive
from inspection.files.strict_json import StrictJsonError, read_json
from inspection.words.contradictions import contradiction_words
from inspection.words.declared import declared_words
from inspection.words.editions import change_words
from inspection.words.fit import check_words, to_measure_words
from inspection.words.jig import build_advice, build_words, set_up_words
from inspection.words.moves import move_refused_words
from inspection.words.not_fitting import plain_words
from inspection.words.remedies import wish_words, work_words
from inspection.words.rooms import room_how, room_name
from inventory.compute.stock import GearRole, PartKind
from inventory.words.numbers import error_words
from tests.browser.long_words import left_in_ours, speak_in_other_letters


@pytest.fixture(autouse=True)
def other_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    speak_in_other_letters(monkeypatch)


DETAILS: dict[Check, KindsOfGear | TwoPitches] = {
    Check.KIND: KindsOfGear(found=None, needed=GearRole.CROWN),
    Check.PITCH: TwoPitches(this=(0.45, ""), other=(0.4, "64 pitch"), is_pinion=True),
}


@pytest.mark.parametrize("check", Check)
def test_what_a_check_found_is_marked(check: Check) -> None:
    bored = Bored.WHEELS if check is Check.BORE else None
    quantity = "clearance_gear" if check is Check.RULE else ""
    for state, value, unit in product(CheckState, (1.0, 4.0, 9.0), ("mm", "", "teeth")):
        row = CheckRow(
            check=check,
            state=state,
            value=value,
            lower=3.0,
            upper=5.0,
            margin=min(value - 3.0, 5.0 - value),
            unit=unit,
            to_measure=ToMeasure(
                check=check, bored=bored, quantities=(quantity,) if quantity else ()
            ),
            quantity=quantity,
            u=0.1,
            detail=DETAILS.get(check),
        )
        assert left_in_ours(check_words(row)) == []
        assert left_in_ours(plain_words(row)) == []


@pytest.mark.parametrize("size", MOUNTING_SIZES)
def test_names_of_the_room_for_parts_are_marked(size: str) -> None:
    assert left_in_ours(room_name(size) + room_how(size)) == []


def test_what_is_to_be_measured_is_marked() -> None:
    for bored in Bored:
        what = ToMeasure(check=Check.BORE, bored=bored)
        assert left_in_ours(to_measure_words(what)) == []


@pytest.mark.parametrize("work", Work)
def test_work_on_a_car_is_marked(work: Work) -> None:
    for is_raised in (False, True):
        one = WorkRemedy(
            work=work,
            amount=1.5,
            unit="mm",
            cures=(0,),
            makes_legal=True,
            column="axle_height_front_left",
            is_raised=is_raised,
        )
        assert left_in_ours(work_words(one)) == []


@pytest.mark.parametrize(
    "column", ["gear_diameter", "can_height", "motor_speed", "tyre_diameter_rear"]
)
def test_part_that_would_help_is_marked(column: str) -> None:
    for low, high in product((None, 12.0), repeat=2):
        wish = Wish(
            kind=PartKind.GEAR,
            column=column,
            lowest=low,
            highest=high,
            unit="teeth",
            decimals=0,
            cures=(0,),
            makes_legal=True,
        )
        assert left_in_ours(wish_words(wish)) == []


@pytest.mark.parametrize("fault", Fault)
def test_what_cannot_be_meant_is_marked(fault: Fault) -> None:
    links = [
        Unmeetable(
            rules=(),
            quantity="rollout",
            comes_out=comes,
            asked=asked,
            is_strict=is_strict,
        )
        for comes, asked in ((1.0, 2.0), (2.0, 1.0), (None, None))
        for is_strict in (True, False)
    ]
    is_link = fault is Fault.NO_CAR_MEETS_ALL
    for rules, link, carrier in product(
        (("1",), ("1", "2", "3")),
        links if is_link else (None,),
        ("", FrontCarrier.GUIDE),
    ):
        one = Contradiction(
            fault=fault,
            rules=rules,
            quantity="weight_car",
            lower=2_000_000,
            upper=1_000_000,
            limit=3_000_000,
            stage=Stage.AFTER,
            u=0.1,
            race_class="B2",
            carrier=carrier,
            link=link,
        )
        assert left_in_ours(contradiction_words(one)) == []


def test_what_differs_between_editions_is_marked() -> None:
    said: dict[Part, Said] = {
        Part.QUANTITY: "weight_car",
        Part.ASKED: Stage.BOTH,
        Part.CLASSES: (),
        Part.ONLY_FOR: ("front_carrier", "guide"),
        Part.LOWER: Limit(1_000_000, "weight_car"),
    }
    for what, tends in product(Part, Tends):
        one = PartChange(what=what, before=None, after=said.get(what), tends=tends)
        assert left_in_ours(change_words(one)) == []


@pytest.mark.parametrize("start", EntryState)
def test_move_that_there_is_not_is_marked(start: EntryState) -> None:
    with pytest.raises(MoveRefusedError) as refusal:
        check_move(start, start)
    assert left_in_ours(move_refused_words(refusal.value)) == []


def zip_of(**members: str) -> io.BytesIO:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as packed:
        for name, text in members.items():
            packed.writestr(name, text)
    file.seek(0)
    return file


@pytest.mark.parametrize(
    ("file", "left"),
    [
        (io.BytesIO(b"18.4"), {"ZIP"}),
        (zip_of(), {"ZIP", "datapackage", "json"}),
        (zip_of(**{"../odd": ""}), {"ZIP", "odd"}),
        (zip_of(**{DESCRIPTOR: "{}"}), {"datapackage", "json", "Feelerbook"}),
        (zip_of(**{DESCRIPTOR: "{"}), {"datapackage", "json", "JSON"}),
    ],
)
def test_what_is_no_archive_is_marked(file: io.BytesIO, left: set[str]) -> None:
    with pytest.raises(ArchiveRefusedError) as refusal:
        Archive(file)
    # Names of files, of formats and our own are the same in each language.
    words = set(left_in_ours(error_words(refusal.value)))
    assert words <= left


@pytest.mark.parametrize("text", [b'{"a": NaN}', b'{"a": 1, "a": 2}', b'"\\ud800"'])
def test_json_that_is_not_strict_is_marked(text: bytes) -> None:
    with pytest.raises(StrictJsonError) as refusal:
        read_json(text)
    assert set(left_in_ours(refusal.value.sentence)) <= {"NaN"}


def test_words_that_are_declared_are_told_to_the_catalogue() -> None:
    words = set(declared_words())
    assert {one.label for one in QUANTITIES.values()} <= words
    assert {*Check, *CheckState, *Work, *Fault, *GearRole, *PartKind} <= words
    assert {"Ground check", "{} teeth", "not measured", "stored geometry"} <= words


@pytest.mark.parametrize("check", BuildCheck)
def test_what_soldering_gave_is_marked(check: BuildCheck) -> None:
    for value, holds in product((-1.0, 1.0), (True, False)):
        row = BuildRow(check=check, value=value, limit=0.5, margin=-0.5, holds=holds)
        assert left_in_ours(build_words(row) + build_advice(row)) == []


def test_setting_up_a_jig_is_marked() -> None:
    stacks = [ShimStack(shims_mm=(0.5,), total_mm=total) for total in (0.4, 0.5, 0.6)]
    for stack, least in product((None, *stacks), (None, 16.0)):
        sheet = JigSheet(
            spacer_mm=0.5,
            stack=stack,
            axle_height_mm=8.0,
            shaft_height_mm=8.0,
            rear_clearance_mm=1.0,
            largest_gear=None,
            least_tyre_mm=least,
        )
        assert not any(left_in_ours(one) for one in set_up_words(sheet))
