"""Why a number is not taken, and what is asked about one, in other letters."""

import re
from collections.abc import Callable
from itertools import product

import numpy as np
import pytest

from inventory.compute.errors import ComputeError
from inventory.compute.file_refusals import NoTableError, WhyNoTable
from inventory.compute.measuring import (
    Gauge,
    StudyMethod,
    check_against_master,
    gauge_study,
)
from inventory.compute.motors import draw_motors
from inventory.compute.numbers import (
    Known,
    KnownOf,
    NumberError,
    Unit,
    find_strange,
    find_strange_in,
    kin_of,
    parse_reading,
)
from inventory.compute.pairing import (
    Asked,
    Bag,
    GroupBy,
    RejectLimits,
    pair_bag,
    pair_by_size,
)
from inventory.compute.pairing.matching import link_windows
from inventory.compute.stock import KINDS, GearRole, PartKind
from inventory.files.columns import guess_layout
from inventory.files.marks import FileFacts, Mark
from inventory.files.refused import FileRefusedError
from inventory.files.rows import read_rows
from inventory.files.tables import Table, read_table
from inventory.words.numbers import error_words
from inventory.words.strange import question_words
from tests.browser.long_words import left_in_ours, speak_in_other_letters
from tests.inventory.compute.numbers.test_units import REFUSED


@pytest.fixture(autouse=True)
def other_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    speak_in_other_letters(monkeypatch)


@pytest.mark.parametrize(
    ("text", "unit"),
    [one[:2] for one in REFUSED if not left_in_ours(one[0])],
)
def test_why_a_number_is_not_taken_is_marked(text: str, unit: Unit) -> None:
    with pytest.raises(NumberError) as refusal:
        parse_reading(text, unit=unit)
    assert left_in_ours(error_words(refusal.value)) == []


METHOD = StudyMethod.AVERAGE_AND_RANGE
SAME = np.ones((2, 2, 2))
HOLE = np.array([[[1.0, 2.0], [1.0, np.nan]], [[1.0, 2.0], [1.0, 2.0]]])
#: What a person can bring about, on a page or by the API.
REFUSES: dict[str, Callable[[], object]] = {
    "no seed": lambda: draw_motors("", drivers=["7"], motors=["A"]),
    "twice": lambda: draw_motors("1", drivers=["7", "7"], motors=["1", "2"]),
    "too few": lambda: draw_motors("1", drivers=["7", "8"], motors=["1"]),
    "small study": lambda: gauge_study(SAME[:1], method=METHOD),
    "too many": lambda: gauge_study(np.ones((11, 2, 2)) + np.arange(2), method=METHOD),
    "ragged": lambda: gauge_study([[1.0], [1.0, 2.0]], method=METHOD),
    "same": lambda: gauge_study(SAME, method=METHOD),
    "hole": lambda: gauge_study(HOLE, method=METHOD),
    "hole at a master": lambda: check_against_master(
        [np.nan], master=20.0, gauge=Gauge(0.01, 0.02, 0.0)
    ),
    "links": lambda: link_windows(np.zeros(9_000, int), np.full(9_000, 9_000)),
    "unlike": lambda: pair_bag(
        Bag(
            diameter_mm=np.array([18.0, 18.1]),
            random_mm=np.zeros(2),
            reading_count=np.ones(2, dtype=np.int64),
            features={},
            words={GroupBy.WIDTH_CODE: ["", ""]},
        ),
        Asked(
            limits=RejectLimits(low_mm=8.0, high_mm=32.0),
            group_by=(GroupBy.WIDTH_CODE,),
        ),
    ),
    "far": lambda: pair_by_size([1, 2], tolerance_um=10**12),
    "word": lambda: KINDS[PartKind.GEAR].read_facts({"role": "-"}),
    "count": lambda: KINDS[PartKind.GEAR].read_facts({"teeth": "-"}),
}


@pytest.mark.parametrize("what", REFUSES)
def test_why_something_cannot_be_computed_is_marked(what: str) -> None:
    with pytest.raises(ComputeError) as refusal:
        REFUSES[what]()
    words = error_words(refusal.value)
    # The words of a closed set are those that a table is read by.
    assert set(left_in_ours(words)) <= set(GearRole)
    assert words.endswith((".", "．"))


@pytest.mark.parametrize("why", WhyNoTable)
def test_why_a_file_is_no_table_is_marked(why: WhyNoTable) -> None:
    found = dict.fromkeys(re.findall(r"%\((\w+)\)s", why), "1")
    words = error_words(NoTableError(why, **found))
    assert set(left_in_ours(words)) <= {"CSV", "XLSX", "JSON", "UTF"}


@pytest.mark.parametrize(
    ("content", "left"),
    [(b"", set()), (b"<!doctype html><p>", {"CSV", "XLSX"}), (b'A;"B"c\n1;2', set())],
)
def test_what_another_process_found_is_said_in_the_readers_language(
    content: bytes, left: set[str]
) -> None:
    with pytest.raises(FileRefusedError) as refusal:
        read_table(content)
    assert set(left_in_ours(error_words(refusal.value))) == left


def test_why_a_row_of_a_table_is_not_taken_is_marked() -> None:
    """A fault of each kind; what stands in the cell is said as it stands."""
    rows = [
        ["Tag", "Ø", "Hardness", "Date", "Wheel"],
        ["A", "184.0", "28", "01/02/2026", "1"],
        ["A", "-18.4", "0", "2999-01-01", "1"],
        ["B/1", "18,4", "28", "1", "1"],
        ["C", "", "28", "2026-01-01", "1" * 31],
        ["∑", "2026-05-12", "1", "", "\u200b1"],
        ["∑ 2", "", "1", "", ""],
        ["Summe", "1", "1", "", ""],
    ]
    table = Table(
        rows=rows,
        facts=FileFacts(form="CSV"),
        marks={(2, 2): Mark.ERROR, (5, 2): Mark.LONG, (4, 1): Mark.FORMULA}
        | {(3, 0): Mark.MERGED},
    )
    faults = read_rows(table, guess_layout(table, PartKind.TYRE), PartKind.TYRE).faults
    gears = Table(rows=[["Teeth", "Cut"], ["3", "9"]], facts=FileFacts(form="CSV"))
    faults += read_rows(gears, guess_layout(gears, PartKind.GEAR), PartKind.GEAR).faults
    assert len({one.code for one in faults}) > 14
    assert [one.sentence for one in faults if left_in_ours(one.sentence)] == []


def test_refusal_that_only_a_programmer_meets_says_so_itself() -> None:
    with pytest.raises(ComputeError) as refusal:
        pair_by_size([[1, 2], [3]], tolerance_um=1)
    assert error_words(refusal.value) == str(refusal.value)


def test_what_is_asked_about_a_reading_is_marked() -> None:
    kin = kin_of([1.0, 1.1, 1.05, 0.95, 1.02, 1.0, 0.98, 1.03])
    odd = [
        find_strange(175.0, plausible=(3.0, 60.0)),
        find_strange(1234.0, plausible=(8.0, 32.0)),
        find_strange(0.1, plausible=(0.0, 20.0), kin=kin),
        *find_strange_in([20.0, 20.7]).values(),
    ]
    for of, other in product(KnownOf, KnownOf):
        beside = [Known(of=of, value=19.0, name="T7")]
        elsewhere = [Known(of=other, value=18.0, name="T8")]
        odd.append(find_strange(18.0, beside=beside, elsewhere=elsewhere))
    for one in odd:
        assert one is not None
        assert left_in_ours(question_words(one, "18")) == []
