"""Units of the quantities, and strict reading of a typed number."""

from enum import StrEnum


class Unit(StrEnum):
    """Unit in which a quantity is stored, shown and compared."""

    MILLIMETRE = "mm"
    GRAM = "g"
    DEGREE = "degree"
    OHM = "ohm"
    RPM = "rpm"
    VOLT = "V"
    SHORE_A = "Shore A"
    ONE = "1"
