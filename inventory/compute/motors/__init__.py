"""Hand-out motors: sets that are alike, and a draw that anyone can run again."""

from inventory.compute.motors.draws import (
    DrawnTwiceError,
    NoSeedError,
    TooFewMotorsError,
    draw_motors,
)
from inventory.compute.motors.sets import (
    match_motors,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "match_motors",
    "NoSeedError",
    "DrawnTwiceError",
    "TooFewMotorsError",
    "draw_motors",
]
