"""A night with sealed sheets of every kind, for tests of what holds them."""

from inspection.actions.notes.motor_seals import put_on_motor_seal
from inspection.actions.notes.sheet_notes import note_on_sheet
from inspection.actions.race_nights import call_back
from inspection.actions.readings import strike_reading
from inspection.actions.seals import seal_sheet
from inspection.compute.judging import DecisionRule
from inspection.compute.night import Decision, PartPosition
from inspection.compute.rulebooks import Answer
from inspection.models import RaceNight, Sheet
from inventory.compute.measuring import Instrument
from inventory.compute.numbers import Unit
from inventory.models import Person
from tests import builders

RULES = (
    builders.rule("1", "weight_car", lower=80),
    builders.rule("2", "tyre_diameter_rear", lower=18, upper=19),
    builders.rule("3", "motor_sealed", required=Answer.YES),
    builders.rule("4", "clearance_rear", lower=0.8),
)


def make_sealed_night(by: Person) -> RaceNight:
    """Seal three sheets: one passed, one sent back, and the second once more."""
    night = builders.make_night(
        builders.make_edition(RULES, decision_rule=DecisionRule.GUARDED_REJECTION)
    )
    scale = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
    caliper = builders.make_gauge()
    slips = builders.make_gauge(instrument=Instrument.SLIP_GAUGE)
    second: Sheet | None = None
    for weight in ("85", "78.5", "80.03"):
        if second is None or weight != "80.03":
            car = builders.make_car()
            builders.fit(car, builders.make_part(), PartPosition.REAR_LEFT)
            entry = builders.make_entry(night=night, car=car)
        else:
            entry = second.entry
            call_back(entry.pk, act=builders.act())
        sheet = builders.make_sheet(entry=entry, by=by)
        gone = builders.read(sheet, "weight_car", "84.0", gauge=scale)
        assert gone.reading is not None
        strike_reading(sheet.number, gone.reading.pk, reason="grit", act=builders.act())
        builders.read(sheet, "weight_car", weight, gauge=scale)
        for side, size in (("left", "18.52"), ("right", "18.49")):
            builders.read(sheet, f"tyre_diameter_rear_{side}", size, gauge=caliper)
        builders.read(sheet, "motor_sealed", answer=Answer.YES)
        builders.read(sheet, "clearance_rear", "0.9", gauge=slips, answer=Answer.YES)
        if second is None:
            put_on_motor_seal(entry.car, f"M {entry.pk}", act=builders.act(by))
            note = "a screw of the body was loose"
            note_on_sheet(
                sheet.number, note, picture=builders.picture(), act=builders.act(by)
            )
        decision = Decision.SENT_BACK if weight == "78.5" else Decision.PASSED
        seal_sheet(sheet.number, decision=decision, act=builders.act(by))
        second = sheet
    return night
