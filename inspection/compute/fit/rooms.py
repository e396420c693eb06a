"""
Room for parts: which sizes of a car say that nothing is in the way.

Of `MOUNTING_SIZES`, which no rule speaks of; millimetres.
"""

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
