"""The picture of where a quantity is measured, by the registry's picture key."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from inspection.drawing import measured_build, measured_stance, measured_wheels
from inspection.drawing.scene import HEIGHT, WIDTH, Scene
from inventory.drawing.svg import Drawing

_PAINTERS = (
    measured_stance.clearance_chassis,
    measured_stance.clearance_gear,
    measured_stance.clearance_motor,
    measured_stance.clearance_magnet,
    measured_stance.clearance_body,
    measured_stance.ride_height,
    measured_stance.twist,
    measured_stance.rake,
    measured_stance.tilt,
    measured_stance.tyre_sink,
    measured_stance.outline,
    measured_stance.centre_of_gravity,
    measured_stance.guide_lead,
    measured_wheels.tyre_diameter,
    measured_wheels.rim_diameter,
    measured_wheels.tyre_form,
    measured_wheels.tyre_width,
    measured_wheels.tyre_hardness,
    measured_wheels.run_out,
    measured_wheels.width,
    measured_wheels.axle_height,
    measured_wheels.axle_play,
    measured_wheels.axle_diameter,
    measured_wheels.axle_square,
    measured_wheels.wheelbase,
    measured_build.body_width,
    measured_build.body_length,
    measured_build.body_height,
    measured_build.chassis_width,
    measured_build.scale,
    measured_build.guide,
    measured_build.can,
    measured_build.can_place,
    measured_build.motor_height,
    measured_build.motor_axle_offset,
    measured_build.gear_diameter,
    measured_build.gear_place,
    measured_build.teeth,
    measured_build.magnet_pull,
    measured_build.motor_bench,
    measured_build.look,
)

#: Every picture, by its key: the name of the function that draws it.
PICTURES: Mapping[str, Callable[[Scene], None]] = MappingProxyType(
    {painter.__name__: painter for painter in _PAINTERS}
)


class NoSuchPictureError(ValueError):
    """No picture has this key."""

    code = "no_such_picture"


def draw_where_to_measure(
    picture: str, *, column: str = "", label: str = "", how: str = ""
) -> str:
    """
    Draw where a quantity is measured.

    ``column`` picks the end, the side or the way where one picture has several;
    ``label`` and ``how``, the registry's own, become its title and description.
    """
    if picture not in PICTURES:
        msg = f"There is no picture “{picture}”."
        raise NoSuchPictureError(msg)
    drawing = Drawing(WIDTH, HEIGHT, title=label or picture, description=how)
    PICTURES[picture](Scene(drawing=drawing, column=column))
    return drawing.svg()
