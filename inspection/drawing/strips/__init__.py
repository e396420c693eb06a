"""
The margin strip: what a rule finds of a car, in one line.

``strip`` draws it, ``scale`` says where on its line a value stands.  Pages take it by
the tags of ``strips``, which say what of a finding or a check it shows.
"""

from inspection.drawing.strips.scale import BASE, WIDTH, ordinary_guard, scale_of
from inspection.drawing.strips.strip import Margin, draw_margin_strip

# In reading order.
__all__ = [  # noqa: RUF022
    "Margin",
    "draw_margin_strip",
    "ordinary_guard",
    "scale_of",
    "BASE",
    "WIDTH",
]
