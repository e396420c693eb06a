"""The units in which quantities are stored, shown and compared."""

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

    @property
    def symbol(self) -> str:
        """What is printed after a number; nothing after a plain one."""
        return _SYMBOLS.get(self, self.value)


_SYMBOLS = {Unit.DEGREE: "°", Unit.OHM: "Ω", Unit.ONE: ""}
