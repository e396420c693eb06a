"""Tags: every single slip and every swap of neighbours is caught (goal P4)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.stock.tags import (
    ALPHABET,
    NotATagError,
    check_sign,
    make_tag,
    read_tag,
    tag_in,
)

NUMBERS = st.integers(min_value=0, max_value=31**5)


def test_alphabet_has_no_sign_that_is_read_as_another() -> None:
    assert len(set(ALPHABET)) == 31
    assert not set("01OIL") & set(ALPHABET)


@given(NUMBERS)
def test_tag_is_read_back_however_it_is_typed(number: int) -> None:
    tag = make_tag("T", number)
    assert read_tag(f" {tag[:3].lower()}-{tag[3:]} ") == tag


@pytest.mark.parametrize("number", [0, 7, 12345, 31**4])
def test_every_single_slip_is_caught(number: int) -> None:
    tag = make_tag("G", number)
    for place in range(len(tag)):
        for sign in set(ALPHABET) - {tag[place]}:
            with pytest.raises(NotATagError):
                read_tag(tag[:place] + sign + tag[place + 1 :])


@given(NUMBERS)
def test_every_swap_of_neighbours_is_caught(number: int) -> None:
    tag = make_tag("M", number)
    for place in range(len(tag) - 1):
        swapped = tag[:place] + tag[place + 1] + tag[place] + tag[place + 2 :]
        if swapped != tag:
            with pytest.raises(NotATagError):
                read_tag(swapped)


@pytest.mark.parametrize("text", ["", "T2", "T2222O", "TO222G", "T22 22!"])
def test_text_that_is_no_tag_is_refused_with_what_was_typed(text: str) -> None:
    with pytest.raises(NotATagError) as refusal:
        read_tag(text)
    assert refusal.value.code == "not_a_tag"


def test_number_below_zero_is_refused() -> None:
    with pytest.raises(NotATagError, match="-1"):
        make_tag("T", -1)


def test_check_sign_weighs_each_place() -> None:
    # By hand: "T" is sign 24 and "2" is sign 0; −(2·24) mod 31 = 14, which is "G".
    assert check_sign("T2222") == "G"


@pytest.mark.parametrize(
    "typed",
    ["t2222g", " T2222-G ", "http://club.example/parts/T2222G", "/parts/T2222G/"],
)
def test_tag_is_read_as_typed_or_scanned(typed: str) -> None:
    assert tag_in(typed) == "T2222G"


def test_words_with_a_stroke_are_no_address() -> None:
    assert tag_in(" Shelf 3/4 ") == "Shelf 3/4"
