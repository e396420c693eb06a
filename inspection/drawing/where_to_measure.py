"""The picture of where a quantity is measured, by the registry's picture key."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from inspection.compute.quantities import QUANTITIES
from inspection.drawing import measured_build, measured_stance, measured_wheels
from inspection.drawing.scene import HEIGHT, WIDTH, Scene
from inventory.drawing.svg import Drawing

_PAINTERS: Mapping[str, Callable[[Scene], None]] = MappingProxyType(
    vars(measured_stance) | vars(measured_wheels) | vars(measured_build)
)
#: Every picture, by the registry's key for it: the name of the function that draws it.
PICTURES: Mapping[str, Callable[[Scene], None]] = MappingProxyType(
    {row.picture: _PAINTERS[row.picture] for row in QUANTITIES.values()}
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
