"""What is measured on a part off the car: its unit and how well it repeats."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from inventory.compute.stock import PartQuantity
from inventory.compute.units import Unit


@dataclass(frozen=True, kw_only=True, slots=True)
class PartScale:
    """
    The scale that a quantity of a part is read on.

    Attributes
    ----------
    unit : Unit
        Unit of the value and of its uncertainty.
    repeatability : float
        Standard deviation of repeated readings by one person, in the unit.
    """

    unit: Unit
    repeatability: float


def _mm(repeatability: float) -> PartScale:
    return PartScale(unit=Unit.MILLIMETRE, repeatability=repeatability)


#: Repeatabilities are common practice and have no source; rubber gives way.
PART_SCALES: Final[Mapping[PartQuantity, PartScale]] = MappingProxyType(
    {
        PartQuantity.TYRE_DIAMETER: _mm(0.03),
        PartQuantity.TYRE_WIDTH: _mm(0.05),
        PartQuantity.OUT_OF_ROUND: _mm(0.03),
        PartQuantity.TAPER: _mm(0.03),
        PartQuantity.TYRE_HARDNESS: PartScale(unit=Unit.SHORE_A, repeatability=1.0),
        PartQuantity.BORE: _mm(0.005),
        PartQuantity.GEAR_DIAMETER: _mm(0.02),
        PartQuantity.HUB_WIDTH: _mm(0.02),
        PartQuantity.FACE_WIDTH: _mm(0.02),
        PartQuantity.CROWN_DEPTH: _mm(0.02),
        PartQuantity.CAN_HEIGHT: _mm(0.02),
        PartQuantity.CAN_WIDTH: _mm(0.02),
        PartQuantity.CAN_LENGTH: _mm(0.02),
        PartQuantity.SHAFT_DIAMETER: _mm(0.002),
        PartQuantity.SHAFT_LENGTH: _mm(0.05),
        PartQuantity.MOTOR_SPEED: PartScale(unit=Unit.RPM, repeatability=200.0),
        PartQuantity.MOTOR_RESISTANCE: PartScale(unit=Unit.OHM, repeatability=0.005),
        PartQuantity.MASS: PartScale(unit=Unit.GRAM, repeatability=0.05),
    }
)
