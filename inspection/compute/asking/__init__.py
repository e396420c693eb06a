"""
What is asked of a car: which readings a rulebook wants, and which of them again.

Both follow from what each quantity reads; a car that comes back to the block is
read again where something was refused, changed or adjusted.
"""

from inspection.compute.asking.readings import (
    READINGS_A_NIGHT,
    ReadingsToTake,
    readings_to_take,
)
from inspection.compute.asking.recheck import (
    AREA_OF_POSITION,
    Area,
    columns_of_area,
    columns_to_retake,
)
from inspection.compute.asking.settling import (
    LEAST_CHANCE,
    NextReading,
    Unsettled,
    next_reading,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "READINGS_A_NIGHT",
    "ReadingsToTake",
    "readings_to_take",
    "Area",
    "AREA_OF_POSITION",
    "columns_of_area",
    "columns_to_retake",
    "Unsettled",
    "NextReading",
    "next_reading",
    "LEAST_CHANCE",
]
