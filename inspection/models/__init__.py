"""Rules, cars, race nights, sheets and seals, as tables."""

from inspection.models.boxes import CaliperBox
from inspection.models.builds import RoomSize, SavedJig
from inspection.models.cars import Car, CarValue, FittedPart
from inspection.models.lists import ListDraft
from inspection.models.notes import BrokenSeal, MotorSeal, NotePicture, SheetNote
from inspection.models.notices import Notice, NoticeQuerySet
from inspection.models.protests import (
    Protest,
    ProtestHearer,
    ProtestRuled,
    ProtestSheet,
    ProtestTime,
)
from inspection.models.race_nights import (
    Block,
    Entry,
    EntryCall,
    EntryMove,
    NightClass,
    NightSums,
    RaceNight,
)
from inspection.models.reports import NightReport
from inspection.models.rulebooks import Edition, RaceClass, Rule, Rulebook, RuleClass
from inspection.models.rulings import EditionMove, JudgedAgain, SheetRuling
from inspection.models.samples import (
    HeldCar,
    ReleasedCar,
    Sample,
    SampleDraw,
    SampleVoid,
)
from inspection.models.seals import AuditLink, Seal, SealCheck, SealContent, SealInputs
from inspection.models.sheets import (
    Finding,
    Sheet,
    SheetPart,
    SheetQuerySet,
    SheetReading,
    SheetVoid,
    Strike,
)

__all__ = [
    "AuditLink",
    "Block",
    "BrokenSeal",
    "CaliperBox",
    "Car",
    "CarValue",
    "Edition",
    "EditionMove",
    "Entry",
    "EntryCall",
    "EntryMove",
    "Finding",
    "FittedPart",
    "HeldCar",
    "JudgedAgain",
    "ListDraft",
    "MotorSeal",
    "NightClass",
    "NightReport",
    "NightSums",
    "NotePicture",
    "Notice",
    "NoticeQuerySet",
    "Protest",
    "ProtestHearer",
    "ProtestRuled",
    "ProtestSheet",
    "ProtestTime",
    "RaceClass",
    "RaceNight",
    "ReleasedCar",
    "RoomSize",
    "Rule",
    "RuleClass",
    "Rulebook",
    "Sample",
    "SampleDraw",
    "SampleVoid",
    "SavedJig",
    "Seal",
    "SealCheck",
    "SealContent",
    "SealInputs",
    "Sheet",
    "SheetNote",
    "SheetPart",
    "SheetQuerySet",
    "SheetReading",
    "SheetRuling",
    "SheetVoid",
    "Strike",
]
