"""
What would make a car legal: parts of the stock, or work on the car.

Every single change of parts and every two are tried on a copy of the car; those
after which all mandatory rules are met and every check holds are offered, the fewest
changes first.  Beside them the work that needs no part, and the part that is wished.
"""

from inspection.compute.remedies.advice import (
    Work,
    WorkRemedy,
    work_remedies,
)
from inspection.compute.remedies.changes import (
    Remedy,
    remedies,
)
from inspection.compute.remedies.wishes import (
    Wish,
    what_would_help,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "Remedy",
    "remedies",
    "Wish",
    "what_would_help",
    "Work",
    "WorkRemedy",
    "work_remedies",
]
