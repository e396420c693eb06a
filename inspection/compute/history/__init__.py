"""What the past says: medians of a season, the spread of repeats, nights left."""

from inspection.compute.history.season import (
    Repeats,
    medians,
    repeats,
    wear_a_night,
)
from inspection.compute.history.tyre_lives import (
    NightsLeft,
    NoTyresError,
    RacedTyre,
    nights_left,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "medians",
    "Repeats",
    "repeats",
    "wear_a_night",
    "NoTyresError",
    "RacedTyre",
    "NightsLeft",
    "nights_left",
]
