"""Rules, cars, race nights, sheets and seals, as tables."""

from inspection.models.builds import RoomSize, SavedJig
from inspection.models.cars import Car, CarValue, FittedPart
from inspection.models.race_nights import Block, Entry, EntryMove, NightClass, RaceNight
from inspection.models.rulebooks import Edition, RaceClass, Rule, Rulebook, RuleClass
from inspection.models.seals import Seal, SealInputs
from inspection.models.sheets import Finding, Sheet, SheetPart, SheetReading, Strike

__all__ = [
    "Block",
    "Car",
    "CarValue",
    "Edition",
    "Entry",
    "EntryMove",
    "Finding",
    "FittedPart",
    "NightClass",
    "RaceClass",
    "RaceNight",
    "RoomSize",
    "Rule",
    "RuleClass",
    "Rulebook",
    "SavedJig",
    "Seal",
    "SealInputs",
    "Sheet",
    "SheetPart",
    "SheetReading",
    "Strike",
]
