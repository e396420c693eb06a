"""Motors of the hand-out pool, with the two figures by which they are matched."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.compute.numbers import from_millionths
from inventory.compute.stock import PartKind, PartQuantity
from inventory.loaders.batches import loose_parts
from inventory.models import PartEstimate


@dataclass(frozen=True, kw_only=True)
class MotorPool:
    """Motors in stock with a no-load speed and a resistance, a column each."""

    tags: list[str]
    families: list[str]
    drawers: list[str]
    speed_rpm: NDArray[np.float64]
    resistance_ohm: NDArray[np.float64]
    unmeasured: list[str]

    def __len__(self) -> int:
        return len(self.tags)


def load_pool() -> MotorPool:
    """Load the motors that lie in stock, in two queries."""
    parts = loose_parts(None, PartKind.MOTOR)
    quantities = (PartQuantity.MOTOR_SPEED, PartQuantity.MOTOR_RESISTANCE)
    estimates = {
        (part, quantity): from_millionths(value)
        for part, quantity, value in PartEstimate.objects.current()
        .filter(part__in=parts.order_by().values("pk"), quantity__in=quantities)
        .values_list("part", "quantity", "value")
    }
    rows = list(
        parts.order_by("tag").values_list("pk", "tag", "motor__family", "drawer")
    )
    known = [row for row in rows if all((row[0], q) in estimates for q in quantities)]
    speed, resistance = (
        np.array([estimates[row[0], quantity] for row in known], dtype=np.float64)
        for quantity in quantities
    )
    return MotorPool(
        tags=[row[1] for row in known],
        families=[row[2] for row in known],
        drawers=[row[3] for row in known],
        speed_rpm=speed,
        resistance_ohm=resistance,
        unmeasured=[row[1] for row in rows if row not in known],
    )
