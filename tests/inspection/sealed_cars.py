"""A club whose cars have been sealed, for tests of trials and seasons."""

from collections.abc import Mapping

from inspection.actions.seals import seal_sheet
from inspection.compute.night.entries import Decision
from inspection.compute.quantities.quantity import FrontCarrier
from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.models import Car, Sheet
from tests import builders
from tests.browser.race_night import GOOD, Club, make_car, make_sheet, now, take

#: Cars by what was found of them; what is not said is as on a good car.
FOUND: Mapping[str, Mapping[str, str]] = {
    "good": {},
    "light": {"weight_car": "79.1"},
    "low": {"clearance_front": "no", "gear_diameter": "17.60"},
    "worn": {"tyre_diameter_rear_left": "18.32", "tyre_diameter_rear_right": "18.20"},
    "unsealed motor": {"motor_sealed": "no"},
    "unfinished": {"weight_car": "", "tyre_diameter_rear_left": ""},
}


def seal_cars(club: Club) -> list[Sheet]:
    """Put each car on the block, read it, and seal its sheet."""
    return [seal_car(club, said) for said in FOUND.values()]


def seal_car(
    club: Club,
    said: Mapping[str, str],
    *,
    car: Car | None = None,
    carrier: FrontCarrier = FrontCarrier.FRONT_WHEELS,
) -> Sheet:
    """Seal one car; it passes where it may."""
    sheet = make_sheet(club, car or make_car(club, carrier=carrier))
    to_take = load_sheet(sheets_to_load().get(pk=sheet.pk)).to_take
    asked = {*to_take.tonight, *to_take.stored}
    take(club, sheet, {k: v for k, v in {**GOOD, **said}.items() if v and k in asked})
    return seal(club, sheet)


def seal(club: Club, sheet: Sheet) -> Sheet:
    """Seal a sheet as it stands."""
    loaded = load_sheet(sheets_to_load().get(pk=sheet.pk))
    if loaded.may_pass or loaded.may_be_sent_back:
        decision = Decision.PASSED if loaded.may_pass else Decision.SENT_BACK
        seal_sheet(sheet.number, decision=decision, act=now(club.anna))
    else:
        builders.send_back(sheet.number, act=now(club.chief))
    return sheets_to_load().get(pk=sheet.pk)
