"""What a night takes off a car's tyres, by hand."""

import pytest

from inspection.compute.wear_history import WornTyres, wear_per_night_mm


def pair(*measured: tuple[int, float]) -> list[WornTyres]:
    return [WornTyres(races=races, diameter_mm=size) for races, size in measured]


def test_two_pairs_count_by_the_races_that_each_ran() -> None:
    # 0.06 mm in two races and 0.12 mm in four: 0.18 / 6.
    pairs = [pair((0, 20.40), (1, 20.38), (2, 20.34)), pair((2, 20.5), (6, 20.38))]
    assert wear_per_night_mm(pairs) == pytest.approx(0.03)


@pytest.mark.parametrize(
    "pairs",
    [
        [],
        [[]],
        [pair((3, 20.0))],
        [pair((3, 20.0), (3, 19.9))],
        [pair((3, 20.0), (4, 20.0))],
        [pair((3, 20.0), (4, 20.2))],
    ],
    ids=["none", "empty", "once", "no race between", "not worn", "swollen"],
)
def test_without_a_race_or_wear_there_is_no_answer(
    pairs: list[list[WornTyres]],
) -> None:
    assert wear_per_night_mm(pairs) is None


def test_reading_between_races_changes_nothing() -> None:
    assert wear_per_night_mm(
        [pair((0, 20.40), (2, 20.34)), pair((2, 20.5), (2, 20.1))]
    ) == pytest.approx(0.03)
