"""Why a number is not taken, and what is asked about one, in other letters."""

from itertools import product

import pytest

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
