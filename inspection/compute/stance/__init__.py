"""
How a car stands, and the clearances that this gives it.

Readings of a field of cars in, derived columns out: a column as it was read, else by
its formula; a quantity at each place of the standing car where it has a value.  And
which columns each quantity reads on the way.  Millimetres in the chassis frame: x
forward from the rear axle, y to the left, z up.
"""

from inspection.compute.stance.derivation import (
    AXLE_HEIGHT_NEEDS,
    AXLE_HEIGHTS,
    Derivation,
)
from inspection.compute.stance.fields import (
    AT_LEAST,
    AT_MOST,
    BETWEEN,
    VALUE,
    Field,
    FieldShapeError,
    NotAMeasurementError,
    RepeatedColumnError,
    is_value,
)
from inspection.compute.stance.inputs import (
    Noting,
    inputs_of,
    is_asked_for,
    quantities_reading,
    readings_behind,
)
from inspection.compute.stance.places import (
    Ground,
    Standing,
)
from inspection.compute.stance.points import Place, Point

# In reading order.
__all__ = [  # noqa: RUF022
    "FieldShapeError",
    "RepeatedColumnError",
    "NotAMeasurementError",
    "VALUE",
    "AT_LEAST",
    "AT_MOST",
    "BETWEEN",
    "is_value",
    "Field",
    "Derivation",
    "AXLE_HEIGHTS",
    "AXLE_HEIGHT_NEEDS",
    "Point",
    "Place",
    "Ground",
    "Standing",
    "inputs_of",
    "readings_behind",
    "is_asked_for",
    "quantities_reading",
    "Noting",
]
