"""
Room for parts: which sizes of a car say that nothing is in the way.

Words for `MOUNTING_SIZES`, which no rule speaks of; millimetres.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

#: Sizes that a car may have without end: open wheels, no bar, no bay.
OPEN_ENDED: Final = frozenset(
    {
        "axle_to_bar_mm",
        "arch_width_mm",
        "axle_room_mm",
        "bay_height_mm",
        "bay_width_mm",
        "bay_length_mm",
        "lift_high_mm",
    }
)
#: No room on such a car is larger than this.
MOST_ROOM_MM: Final = 80.0
#: What may not be greater than what.
IN_ORDER: Final = (
    ("slot_low_mm", "slot_high_mm"),
    ("lift_low_mm", "lift_high_mm"),
)
#: Short names, for a form or a table; `MOUNTING_SIZES` says how each is taken.
ROOM_LABELS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "slot_low_mm": "Motor slot, nearest",
        "slot_high_mm": "Motor slot, farthest",
        "axle_to_bar_mm": "Axle to chassis bar",
        "axle_room_mm": "Room on the axle",
        "shaft_to_bearing_mm": "Shaft to bearing",
        "spacers_mm": "Spacers",
        "shaft_end_mm": "Axle to shaft end",
        "arch_width_mm": "Wheel arch",
        "bay_height_mm": "Motor bay, height",
        "bay_width_mm": "Motor bay, width",
        "bay_length_mm": "Motor bay, length",
        "lift_low_mm": "Motor lift, least",
        "lift_high_mm": "Motor lift, greatest",
    }
)
