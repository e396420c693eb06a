"""
The car that a drawing shows: figures by the registry's columns, and how it stands.

Millimetres and degrees in, pixels out.  What is not known is left out or drawn
dashed at a likely place, and named.
"""

import math
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from inventory.drawing.numbers import shown_number
from inventory.drawing.svg import Drawing, Pen, Point

Plane = tuple[float, float, float]

#: A wheel so high over the ground hangs free; below it is the rubber's own doubt.
LIFTED_MM = 0.05
#: Where tyres are drawn, dashed, while the track is not known.
LIKELY_TRACK = 56.0
_LINE, _LETTERS = 14.0, 62


@dataclass(frozen=True, kw_only=True)
class CarFigures:
    """
    What is known of a car.

    ``values`` has the registry's columns as keys; absent or NaN is not known.
    ``plane`` is the ground in the chassis frame, z = a·x + b·y + c; without it the
    ground is laid under the tyres as far as they are known.  ``failing`` names the
    columns to mark, ``limits`` the lower and upper limit that each does not keep.
    """

    values: Mapping[str, float] = field(default_factory=dict)
    plane: Plane | None = None
    front_on_guide: bool = False
    failing: frozenset[str] = frozenset()
    limits: Mapping[str, tuple[float | None, float | None]] = field(
        default_factory=dict
    )

    def limit_words(self, *columns: str) -> str:
        """Say the limit that the first failing of the columns does not keep."""
        for column in columns:
            lower, upper = self.limits.get(column, (None, None))
            value = self.of(column)
            if column not in self.failing or value is None:
                continue
            if lower is not None and (upper is None or value < (lower + upper) / 2):
                return _("least %(limit)s") % {"limit": shown_number(lower)}
            if upper is not None:
                return _("most %(limit)s") % {"limit": shown_number(upper)}
        return ""

    def gap_of_wheel(self, end: str, y: float) -> float:
        """Height of a wheel over the ground it stands on; 0 where it is not known."""
        low = self.contact(end, y)
        ahead = 0.0 if end == "rear" else self.wheelbase()
        if low is None or ahead is None or self.plane is None:
            return 0.0
        slope_x, slope_y, level = self.plane
        return low - (slope_x * ahead + slope_y * y + level)

    def lifted_wheel(self) -> str:
        """Name the wheel that hangs free, if one does."""
        words = {
            ("front", 1): _("front left"),
            ("front", -1): _("front right"),
            ("rear", 1): _("rear left"),
            ("rear", -1): _("rear right"),
        }
        gaps = {
            (end, side): self.gap_of_wheel(
                end, side * (self.track(end) or LIKELY_TRACK) / 2
            )
            for end, side in words
        }
        highest = max(gaps, key=lambda wheel: gaps[wheel])
        return words[highest] if gaps[highest] > LIFTED_MM else ""

    def of(self, column: str) -> float | None:
        """Give the value of a column, None when it is not known."""
        value = self.values.get(column)
        return None if value is None or math.isnan(value) else value

    def first_of(self, *columns: str) -> float | None:
        """Give the value of the first column that is known."""
        known = (self.of(column) for column in columns)
        return next((value for value in known if value is not None), None)

    def mean_of(self, *columns: str) -> float | None:
        """Give the mean of those columns that are known."""
        known = [value for c in columns if (value := self.of(c)) is not None]
        return sum(known) / len(known) if known else None

    def track(self, end: str) -> float | None:
        """Distance between the tyres' middles."""
        taken = self.of(f"track_{end}")
        over, width = self.of(f"width_{end}"), self.of(f"tyre_width_{end}")
        if taken is None and over is not None and width is not None:
            return over - width
        return taken

    def axle_height(self, end: str, y: float) -> float | None:
        """Height of the axle's centre over the datum at ``y`` to the left."""
        left = self.first_of(f"axle_height_{end}_left", f"axle_height_{end}_right")
        right = self.first_of(f"axle_height_{end}_right", f"axle_height_{end}_left")
        if left is None or right is None:
            return None
        span = self.of(f"axle_station_span_{end}") or self.track(end) or math.inf
        return (left + right) / 2 + (left - right) / span * y

    def contact(self, end: str, y: float) -> float | None:
        """Height of a tyre's lowest point over the datum."""
        side = "left" if y > 0 else "right"
        other = "right" if y > 0 else "left"
        name = f"tyre_diameter_{end}"
        height = self.axle_height(end, y)
        diameter = self.first_of(f"{name}_{side}", f"{name}_{other}")
        if height is None or diameter is None:
            return None
        return height - diameter / 2

    def wheelbase(self) -> float | None:
        return self.mean_of("wheelbase_left", "wheelbase_right")


@dataclass(frozen=True, kw_only=True)
class Frame:
    """
    From the chassis frame, seen along one axis, to pixels over a level ground.

    The car's left, or its nose, is at the picture's left.
    """

    scale: float
    origin: float
    ground: float
    slope: float = 0.0
    level: float = 0.0

    def at(self, across: float, up: float) -> Point:
        """Give the pixel of a point, across (y or x) and over the datum."""
        over = up - self.level
        angle = math.atan(self.slope)
        along = across * math.cos(angle) + over * math.sin(angle)
        height = over * math.cos(angle) - across * math.sin(angle)
        return self.origin - along * self.scale, self.ground - height * self.scale

    def gap(self, across: float, up: float) -> float:
        """Give a point's height over the ground, in millimetres."""
        return (self.ground - self.at(across, up)[1]) / self.scale

    def box(self, across: tuple[float, float], up: tuple[float, float]) -> list[Point]:
        """Give the corners of a rectangle that lies square to the chassis."""
        (a, b), (low, high) = across, up
        return [self.at(a, low), self.at(b, low), self.at(b, high), self.at(a, high)]


def rear_ground(car: CarFigures) -> tuple[float, float] | None:
    """Give slope and level of the ground across the rear axle."""
    if car.plane is not None:
        return car.plane[1], car.plane[2]
    track = car.track("rear") or LIKELY_TRACK
    left, right = car.contact("rear", track / 2), car.contact("rear", -track / 2)
    if left is not None and right is not None:
        return (left - right) / track, (left + right) / 2
    taken = car.first_of("ride_height_rear", "clearance_rear")
    return None if taken is None else (0.0, -taken)


def side_ground(car: CarFigures) -> tuple[float, float] | None:
    """Give slope and level of the ground along the car."""
    if car.plane is not None:
        return car.plane[0], car.plane[2]
    rear = rear_ground(car)
    if rear is None:
        return None
    ahead, front = _front_support(car)
    if not ahead or front is None:
        return 0.0, rear[1]
    return (front - rear[1]) / ahead, rear[1]


def _front_support(car: CarFigures) -> tuple[float | None, float | None]:
    if car.front_on_guide:
        return car.of("guide_lead"), car.of("guide_flange_height")
    wheelbase = car.wheelbase()
    front = car.contact("front", 0.0)
    if front is None:
        taken = car.first_of("ride_height_front", "clearance_front")
        front = None if taken is None else -taken
    return wheelbase, front


def missing_words(car: CarFigures, needed: Mapping[str, tuple[str, ...]]) -> list[str]:
    """Name what is not known, by label; any one of the columns will do."""
    return [
        label for label, columns in needed.items() if car.first_of(*columns) is None
    ]


def not_known(missing: list[str]) -> str:
    """Write the sentence that says what is missing."""
    return _("Not known yet: %(what)s.") % {"what": ", ".join(missing)}


def note_height(missing: list[str], width: float = 400.0) -> float:
    """Height of the note that ``note_missing`` writes on a drawing so wide."""
    return len(_note(missing, width)) * _LINE


def note_missing(drawing: Drawing, missing: list[str], y: float) -> None:
    """Write on the drawing what is missing from it."""
    for row, words in enumerate(_note(missing, drawing.width)):
        drawing.text(Pen.SMALL, (6, y + 8 + row * _LINE), words)


def _note(missing: list[str], width: float) -> list[str]:
    letters = int(_LETTERS * width / 400)
    return textwrap.wrap(not_known(missing), letters) if missing else []
