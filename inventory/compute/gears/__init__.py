"""Gears: sizes of a spur gear, how two mesh, and the pitch of an unmarked one."""

from inventory.compute.gears.likely_pitches import (
    sure_modules_mm,
)
from inventory.compute.gears.meshes import (
    Mesh,
    MeshState,
    centre_distance_for_backlash,
    mesh,
    rollout_mm,
)
from inventory.compute.gears.pitches import (
    NO_STANDARD_PITCH,
    PITCHES,
    PitchCandidate,
    identify_pitch,
)
from inventory.compute.gears.spurs import (
    LEAST_TEETH,
    MOST_TEETH,
    Spur,
    spur,
)
from inventory.compute.gears.tips import (
    diameter_over_tips,
    tip_form_u_mm,
    true_outside_diameter_mm,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "LEAST_TEETH",
    "MOST_TEETH",
    "Spur",
    "spur",
    "true_outside_diameter_mm",
    "tip_form_u_mm",
    "diameter_over_tips",
    "MeshState",
    "Mesh",
    "mesh",
    "centre_distance_for_backlash",
    "rollout_mm",
    "NO_STANDARD_PITCH",
    "PitchCandidate",
    "PITCHES",
    "identify_pitch",
    "sure_modules_mm",
]
