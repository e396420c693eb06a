"""
The two drawings of a car on the block, kept by what they asked of its figures.

Most readings move nothing that a drawing shows.  A drawing notes each figure that it
asks for; while all of those, and all else that it is drawn from, are as they were, it
would come out the same, and is not drawn again.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Final, TypeAlias

from django.utils.translation import get_language

from inspection.drawing.car import CarFigures
from inspection.drawing.rear_view import describe_rear_view, draw_rear_view
from inspection.drawing.side_view import describe_side_view, draw_side_view
from inspection.loaders.kept import Kept
from inventory.compute.numbers import written_now

#: Of how many cars, by what fails of them, drawings are kept, and how many of each.
_CARS_KEPT: Final = 50
_KEPT_OF_EACH: Final = 12

Drawn: TypeAlias = tuple[str, list[str]]
Asked: TypeAlias = dict[str, float | None]

_KEPT: Final = Kept[object, tuple[tuple[Asked, Drawn], ...]](_CARS_KEPT)


def car_view(key: str, figures: CarFigures) -> Drawn:
    """
    Draw one view of a car.

    Parameters
    ----------
    key : str
        "rear-view" or "side-view".
    figures : CarFigures
        What is known of the car, mm and degrees.

    Returns
    -------
    tuple of str and list of str
        The SVG, and the same in sentences.
    """
    limits = tuple(sorted(figures.limits.items(), key=lambda one: one[0]))
    beside = (figures.plane, figures.front_on_guide, figures.failing, limits)
    where = (key, beside, get_language(), written_now())
    before = _KEPT.get(where) or ()
    for asked, drawn in before:
        if all(figures.values.get(name) == value for name, value in asked.items()):
            return drawn
    noted = _Noted(figures.values)
    drawn = _draw(key, replace(figures, values=noted))
    _KEPT.put(where, ((noted.asked, drawn), *before)[:_KEPT_OF_EACH])
    return drawn


def _draw(key: str, figures: CarFigures) -> Drawn:
    if key == "rear-view":
        return draw_rear_view(figures, is_narrow=True), describe_rear_view(figures)
    return draw_side_view(figures, is_narrow=True), describe_side_view(figures)


class _Noted(Mapping[str, float]):
    """Figures, and which of them were asked for."""

    def __init__(self, values: Mapping[str, float]) -> None:
        self._values = values
        self.asked: Asked = {}

    def __getitem__(self, column: str) -> float:
        self.asked[column] = self._values.get(column)
        return self._values[column]

    def __iter__(self) -> Iterator[str]:
        msg = "A drawing asks for figures by name, so that it is known which it needs."
        raise TypeError(msg)

    def __len__(self) -> int:
        return len(self._values)
