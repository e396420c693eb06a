"""A drawing that is kept is the one that would be drawn now."""

import random
from typing import Final

import pytest
from django.utils import translation

from inspection.drawing.car import CarFigures
from inspection.drawing.rear_view import describe_rear_view, draw_rear_view
from inspection.drawing.side_view import describe_side_view, draw_side_view
from inspection.views.block.car_views import car_view
from tests.browser.long_words import translate

#: A car as it may stand, mm; invented.
FIGURES: Final = {
    "track_rear": 52.0,
    "width_rear": 63.0,
    "tyre_width_rear": 11.0,
    "tyre_diameter_rear_left": 18.4,
    "tyre_diameter_rear_right": 18.5,
    "tyre_diameter_front_left": 16.0,
    "tyre_diameter_front_right": 16.0,
    "axle_height_rear_left": 8.1,
    "axle_height_rear_right": 8.1,
    "axle_height_front_left": 7.4,
    "axle_height_front_right": 7.4,
    "wheelbase_left": 98.2,
    "wheelbase_right": 98.3,
    "gear_diameter": 14.2,
    "guide_lead": 21.0,
    "clearance_rear": 1.1,
    "clearance_gear": 0.4,
    "weight_car": 92.0,
    "guide_depth": 5.0,
}
PLAIN: Final = {
    "rear-view": (draw_rear_view, describe_rear_view),
    "side-view": (draw_side_view, describe_side_view),
}


@pytest.mark.parametrize("key", PLAIN)
def test_view_is_the_plain_drawing_whatever_was_drawn_before(key: str) -> None:
    chance = random.Random(5)
    draw, describe = PLAIN[key]
    values: dict[str, float] = {}
    for _ in range(300):
        column = chance.choice(sorted(FIGURES))
        if column in values and chance.random() < 0.2:
            del values[column]
        else:
            values[column] = FIGURES[column] + chance.choice([0.0, 0.0, 0.7])
        is_failing = chance.random() < 0.3
        figures = CarFigures(
            values=dict(values),
            failing=frozenset({"clearance_rear"} if is_failing else ()),
            limits={"clearance_rear": (1.2, None)} if is_failing else {},
        )
        assert car_view(key, figures) == (
            draw(figures, is_narrow=True),
            describe(figures),
        )


def test_what_a_drawing_does_not_show_draws_nothing_anew() -> None:
    before = car_view("rear-view", CarFigures(values=FIGURES))
    heavier = CarFigures(values=FIGURES | {"weight_car": 93.5})
    assert car_view("rear-view", heavier)[0] is before[0]
    wider = CarFigures(values=FIGURES | {"width_rear": 63.4})
    assert car_view("rear-view", wider)[0] != before[0]


def test_view_of_one_language_is_not_shown_in_another(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    translate(monkeypatch)
    figures = CarFigures(values=FIGURES)
    here = car_view("side-view", figures)
    with translation.override("de"):
        there = car_view("side-view", figures)
    assert there[0] is not here[0]
