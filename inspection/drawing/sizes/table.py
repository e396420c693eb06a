"""
Where the size of each field lies on a drawing of a car.

Pixels of a view's box.  Of no car in particular, and not to scale.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

WIDTH: Final = 480


class View(StrEnum):
    """From where the car is seen."""

    BEHIND = "behind"
    SIDE = "side"
    ABOVE = "above"


@dataclass(frozen=True, kw_only=True)
class Size:
    """
    One dimension: of which fields, in which view, and where.

    ``ends`` are the two places along the line, ``at`` is where the line lies across
    it: to the side where it is upright, else up or down.
    """

    names: tuple[str, ...]
    view: View
    label: str | Promise
    ends: tuple[float, float]
    at: float
    is_upright: bool = False


def _across(
    view: View, label: str | Promise, ends: tuple[float, float], at: float, *names: str
) -> Size:
    return Size(names=names, view=view, label=label, ends=ends, at=at)


def _upright(
    view: View, label: str | Promise, ends: tuple[float, float], at: float, *names: str
) -> Size:
    return Size(names=names, view=view, label=label, ends=ends, at=at, is_upright=True)


SIZES: Final[tuple[Size, ...]] = (
    _across(View.BEHIND, _("over the tyres"), (66, 414), 36, "width_rear", "track"),
    _across(View.BEHIND, _("arch"), (56, 140), 66, "arch_width_mm"),
    _across(View.BEHIND, _("tyre"), (350, 414), 66, "tyre_width_rear"),
    _across(View.BEHIND, _("gear"), (208, 240), 66, "gear_position_y"),
    _upright(
        View.BEHIND,
        _("tyre ⌀"),
        (90, 212),
        34,
        "tyre_diameter_rear_left",
        "tyre",
        "race_tyre",
    ),
    _upright(View.BEHIND, _("tyre ⌀"), (90, 212), 446, "tyre_diameter_rear_right"),
    _upright(
        View.BEHIND,
        _("left"),
        (150, 198),
        150,
        "axle_height_rear_left",
        "axle_height",
        "height_left",
    ),
    _upright(
        View.BEHIND,
        _("right"),
        (150, 198),
        338,
        "axle_height_rear_right",
        "height_right",
    ),
    _across(
        View.BEHIND,
        _("between the two places"),
        (150, 338),
        252,
        "axle_station_span_rear",
        "height_span",
    ),
    _upright(View.BEHIND, _("axle ⌀"), (143, 157), 384, "axle_diameter", "axle"),
    _upright(
        View.BEHIND, _("gear ⌀"), (96, 206), 186, "gear_diameter", "gear_mm", "over"
    ),
    _upright(
        View.BEHIND, _("gap"), (206, 212), 222, "clearance_gear", "gear_clearance"
    ),
    _across(
        View.BEHIND,
        _("chassis width"),
        (110, 370),
        278,
        "chassis_width",
        "datum_half_width_rear",
    ),
    _across(
        View.BEHIND, _("motor width"), (250, 326), 302, "can_width", "bay_width_mm"
    ),
    _upright(View.BEHIND, _("motor"), (104, 188), 296, "can_height", "bay_height_mm"),
    _upright(
        View.BEHIND,
        _("motor lift"),
        (188, 198),
        318,
        "motor_lift_rear",
        "motor_lift_front",
        "motor_lift",
        "lift_low_mm",
        "lift_high_mm",
    ),
    _upright(
        View.BEHIND,
        _("shaft"),
        (146, 198),
        268,
        "motor_axis_height",
        "shaft_height",
        "axle_offset",
    ),
    _across(
        View.SIDE, _("wheelbase"), (96, 396), 62, "wheelbase_left", "wheelbase_right"
    ),
    _across(View.SIDE, _("guide"), (61, 396), 34, "guide_lead"),
    _upright(View.SIDE, _("blade"), (168, 208), 22, "guide_depth"),
    _upright(View.SIDE, _("flange"), (168, 176), 104, "guide_flange_height"),
    _across(View.SIDE, _("tail"), (396, 452), 264, "chassis_tail"),
    _across(
        View.SIDE, _("motor length"), (272, 344), 218, "can_length", "bay_length_mm"
    ),
    _across(View.SIDE, _("motor's rear"), (344, 396), 241, "can_rear_x"),
    _across(View.SIDE, _("motor's front"), (272, 396), 264, "can_front_x"),
    _across(View.SIDE, _("bar"), (366, 396), 90, "axle_to_bar_mm", "axle_to_bar"),
    _across(View.SIDE, _("shaft end"), (352, 396), 112, "shaft_end_mm"),
    _upright(
        View.SIDE,
        _("axle"),
        (144, 176),
        130,
        "axle_height_front_left",
        "axle_height_front_right",
    ),
    _upright(
        View.SIDE,
        _("tyre ⌀"),
        (104, 184),
        150,
        "tyre_diameter_front_left",
        "tyre_diameter_front_right",
    ),
    _upright(View.SIDE, _("jig tyre ⌀"), (92, 184), 456, "jig_tyre"),
    _upright(View.SIDE, _("spacer"), (172, 184), 200, "shims", "stacks"),
    _upright(View.SIDE, _("off"), (176, 184), 60, "twist"),
    _across(View.ABOVE, _("room on the axle"), (114, 204), 20, "axle_room_mm"),
    _across(View.ABOVE, _("shaft to bearing"), (268, 326), 20, "shaft_to_bearing_mm"),
    _across(View.ABOVE, _("spacers"), (204, 216), 46, "spacers_mm"),
    _upright(View.ABOVE, _("slot"), (66, 124), 120, "slot_low_mm", "slot_high_mm"),
    _across(View.ABOVE, _("pinion"), (148, 166), 150, "pinion_face", "teeth_pinion"),
    _across(View.ABOVE, _("shaft"), (140, 204), 112, "shaft_length", "shaft"),
    _upright(
        View.ABOVE,
        _("to the edge"),
        (66, 172),
        86,
        "axle_to_reference_left",
        "reference_left",
    ),
    _upright(
        View.ABOVE,
        _("to the edge"),
        (66, 172),
        394,
        "axle_to_reference_right",
        "reference_right",
    ),
    _across(
        View.ABOVE,
        _("between the two"),
        (86, 394),
        186,
        "axle_reference_span",
        "reference_span",
    ),
    _across(View.ABOVE, _("over the front tyres"), (80, 400), 278, "width_front"),
    _across(View.ABOVE, _("tyre"), (360, 400), 256, "tyre_width_front"),
    _across(
        View.ABOVE, _("between the places"), (150, 330), 256, "axle_station_span_front"
    ),
)
#: Every name that a size answers to.
NAMES: Final = frozenset(name for size in SIZES for name in size.names)


def view_of(name: str) -> View | None:
    """Say in which view a field's size is; none where it has none."""
    return next((size.view for size in SIZES if name in size.names), None)
