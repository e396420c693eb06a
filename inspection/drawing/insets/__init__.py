"""
What fails, magnified: a gap too small to be seen on a drawing to scale.

The inset stands at the right of a view, its own scale written above it.
"""

from inspection.drawing.insets.gaps import (
    SIDE_GAPS,
    WIDTH,
    draw_inset,
    gap_to_magnify,
    ring_gaps,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "gap_to_magnify",
    "ring_gaps",
    "draw_inset",
    "SIDE_GAPS",
    "WIDTH",
]
