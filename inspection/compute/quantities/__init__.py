"""
What a rule may speak of: the registry of quantities.

One row for each quantity, a file for each region of the car: its unit, the range
in which a reading is plausible, how it is taken, its formula or its place on the
standing car, the part that gives it, the picture that shows where to measure.
Beside the rows: where the value behind a rule may come from.
"""

from inspection.compute.quantities.body import (
    BODY,
    OUTLINE_CORNERS,
)
from inspection.compute.quantities.drive import (
    DRIVE,
)
from inspection.compute.quantities.looks import (
    LOOKED,
    WORDS_OF_CAR,
)
from inspection.compute.quantities.quantity import (
    AxleHeightTo,
    AxleHeld,
    FromPart,
    FrontCarrier,
    Handling,
    Keeps,
    Kind,
    Layout,
    Quantity,
    Side,
    Whereabouts,
    WorkedOut,
)
from inspection.compute.quantities.registry import (
    COLUMNS,
    QUANTITIES,
    UnknownColumnError,
    column_owner,
    columns_of,
    label_of,
)
from inspection.compute.quantities.sources import (
    OFF_THE_BLOCK,
    ON_THE_BLOCK,
    PART_COLUMNS,
    TEETH_COLUMNS,
    Source,
    Witness,
    nearest,
)
from inspection.compute.quantities.standing import (
    STANDING,
)
from inspection.compute.quantities.wheels import (
    WHEELS,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "QUANTITIES",
    "COLUMNS",
    "UnknownColumnError",
    "columns_of",
    "column_owner",
    "label_of",
    "Kind",
    "Side",
    "Layout",
    "FrontCarrier",
    "AxleHeightTo",
    "AxleHeld",
    "Keeps",
    "Handling",
    "Whereabouts",
    "WorkedOut",
    "FromPart",
    "Quantity",
    "WORDS_OF_CAR",
    "OUTLINE_CORNERS",
    "BODY",
    "DRIVE",
    "LOOKED",
    "STANDING",
    "WHEELS",
    "Source",
    "Witness",
    "ON_THE_BLOCK",
    "OFF_THE_BLOCK",
    "nearest",
    "PART_COLUMNS",
    "TEETH_COLUMNS",
]
