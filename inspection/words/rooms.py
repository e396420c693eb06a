"""Names of a car's sizes that no rule speaks of, and how each is taken."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

#: How each is taken, as it stands behind “measure”.
HOW_TAKEN: Final[Mapping[str, Promise]] = MappingProxyType(
    {
        "slot_low_mm": _("the least distance of shaft and axle in the motor's slot"),
        "slot_high_mm": _(
            "the greatest distance of shaft and axle in the motor's slot"
        ),
        "axle_to_bar_mm": _(
            "from the axle's centre to the chassis bar beside the gear"
        ),
        "axle_room_mm": _("the room on the axle between bearing and far side"),
        "shaft_to_bearing_mm": _("from the motor shaft's axis sideways to the bearing"),
        "spacers_mm": _("the spacers between hub and bearing, 0 for none"),
        "shaft_end_mm": _("from the axle's centre forward to the shaft's end"),
        "arch_width_mm": _("the room for a tyre in the arch"),
        "bay_height_mm": _("the room for the motor, upward"),
        "bay_width_mm": _("the room for the motor, across its shaft"),
        "bay_length_mm": _("the room for the motor, along its shaft"),
        "lift_low_mm": _("the least lift that the motor can have, 0 on the flat"),
        "lift_high_mm": _("the greatest lift that the motor can have"),
    }
)
#: Short names, for a form or a table.
ROOM_NAMES: Final[Mapping[str, Promise]] = MappingProxyType(
    {
        "slot_low_mm": _("Motor slot, nearest"),
        "slot_high_mm": _("Motor slot, farthest"),
        "axle_to_bar_mm": _("Axle to chassis bar"),
        "axle_room_mm": _("Room on the axle"),
        "shaft_to_bearing_mm": _("Shaft to bearing"),
        "spacers_mm": _("Spacers"),
        "shaft_end_mm": _("Axle to shaft end"),
        "arch_width_mm": _("Wheel arch"),
        "bay_height_mm": _("Motor bay, height"),
        "bay_width_mm": _("Motor bay, width"),
        "bay_length_mm": _("Motor bay, length"),
        "lift_low_mm": _("Motor lift, least"),
        "lift_high_mm": _("Motor lift, greatest"),
    }
)


def room_name(size: str) -> str:
    """
    Name a size of the room for parts.

    Parameters
    ----------
    size : str
        Of `MOUNTING_SIZES`.

    Returns
    -------
    str
        As it begins a line.
    """
    return str(ROOM_NAMES[size])


def room_how(size: str) -> str:
    """
    Say how a size of the room for parts is taken.

    Parameters
    ----------
    size : str
        Of `MOUNTING_SIZES`.

    Returns
    -------
    str
        As it begins a sentence, without its full stop.
    """
    how = str(HOW_TAKEN[size])
    return how[:1].upper() + how[1:]
