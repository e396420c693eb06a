"""
What a car stands on, kept by all that this hangs on.

A reading of a weight or a look moves no wheel, and what is judged is drawn as well.
"""

from typing import Final, TypeAlias

from inspection.compute.judging import ground_under
from inspection.compute.quantities import FrontCarrier
from inspection.compute.stance import Field, Ground, inputs_of
from inspection.loaders.kept import Kept

#: A night of a hundred cars, each with what it was before some readings.
MOST_KEPT: Final = 500

Key: TypeAlias = tuple[tuple[str, ...], bytes, bytes | None]

_KEPT: Final = Kept[Key, Ground](MOST_KEPT)


def ground_of(car: Field, carrier: FrontCarrier) -> Ground:
    """
    Give what a car stands on, as ``evaluate`` takes it.

    It follows from the columns that the tilt of a car is worked out from (`inputs_of`),
    and from their values alone: no uncertainty moves a car.
    """
    reads = inputs_of("tilt", carrier)
    rows = [at for at, one in enumerate(car.columns) if one in reads]
    key = (
        tuple(car.columns[at] for at in rows),
        car.value[0, rows].tobytes(),
        None if car.bound is None else car.bound[0, rows].tobytes(),
    )
    return _KEPT.of(key, lambda: ground_under(car))
