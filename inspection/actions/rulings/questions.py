"""Rulings: what the chief says of a sealed sheet that came into question."""

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.race_nights import lock_entry, move_entry
from inspection.actions.sheets import last_counting, reopen_car
from inspection.compute.night import EntryState, Ruling
from inspection.loaders.block.doubts import doubtful_readings, doubts_of
from inspection.loaders.night.own_cars import leaves_ruling_to_others
from inspection.models import JudgedAgain, Sheet, SheetReading, SheetRuling
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError, reason_given
from inventory.words.enumerations import word_of


@transaction.atomic
def rule_on_doubt(
    number: str, check_id: int, *, ruling: Ruling, reason: str, act: Act
) -> SheetRuling:
    """
    Rule of a sealed sheet on which a gauge read that failed its next check.

    Writes a SheetRuling; unless the sheet stands, a car that it let pass is back on
    the block with a new sheet, and one that it sent back waits.  Audits
    ``sheet.ruled``.  Raises RefusedError without a reason, when the sheet is not
    sealed, is not in doubt by that check or was ruled of already, when that person
    sealed it or is concerned in its car and somebody else may rule, or when it is to
    be measured again on a night that is closed.
    """
    sheet = _locked(number)
    doubts = doubts_of(sheet.pk).get(sheet.pk, [])
    doubt = next((one for one in doubts if one.check_id == check_id), None)
    if doubt is None or not sheet.is_sealed:
        raise RefusedError(
            code="not_in_doubt",
            sentence=_("Sheet %(sheet)s is not a sealed sheet in doubt by that check.")
            % {"sheet": sheet.number},
        )
    _refuse_ruled(sheet, doubt.ruling)
    return _rule(
        sheet, ruling, reason, act=act, about={"gauge_check_id": doubt.check_id}
    )


@transaction.atomic
def rule_on_edition(
    judged_id: int, *, ruling: Ruling, reason: str, act: Act
) -> SheetRuling:
    """
    Rule of a sealed sheet whose decision would be another by the new edition.

    Writes, audits and refuses what ``rule_on_doubt`` does.
    """
    judged = JudgedAgain.objects.select_related("sheet").get(pk=judged_id)
    sheet = _locked(judged.sheet.number)
    _refuse_ruled(sheet, SheetRuling.objects.filter(judged_again=judged).first())
    return _rule(sheet, ruling, reason, act=act, about={"judged_again": judged})


def _locked(number: str) -> Sheet:
    Sheet.objects.select_for_update().get(number=number)
    return Sheet.objects.select_related("seal", "void", "entry__night").get(
        number=number
    )


def _refuse_ruled(sheet: Sheet, ruling: SheetRuling | None) -> None:
    if ruling is not None:
        raise RefusedError(
            code="ruled_already",
            sentence=_(
                "%(by)s ruled of sheet %(sheet)s already: “%(ruling)s”, %(reason)s."
            )
            % {
                "by": ruling.by,
                "sheet": sheet.number,
                "ruling": word_of(ruling.ruling),
                "reason": ruling.reason,
            },
        )


def _rule(
    sheet: Sheet, ruling: Ruling, reason: str, *, act: Act, about: dict[str, object]
) -> SheetRuling:
    why = reason_given(reason)
    _refuse_own_sheet(sheet, act)
    if ruling is Ruling.AGAIN and sheet.entry.night.closed_at is not None:
        raise RefusedError(
            code="night_closed",
            sentence=_(
                "%(night)s is closed: nothing is measured again; the sheet stands or "
                "is void."
            )
            % {"night": sheet.entry.night},
            field="ruling",
        )
    sheet_ruling = SheetRuling.objects.create(
        sheet=sheet, ruling=ruling, reason=why, by=act.by, at=act.at, **about
    )
    record_event(
        "sheet.ruled",
        subject=sheet,
        act=act,
        ruling=ruling,
        reason=why,
        is_by_sealer=sheet_ruling.is_by_sealer,
    )
    if ruling is not Ruling.STANDS:
        _move_the_car(sheet, ruling, why, act=act)
    return sheet_ruling


def _refuse_own_sheet(sheet: Sheet, act: Act) -> None:
    if not leaves_ruling_to_others(act.by, sheet):
        return
    filled_in = {"by": act.by, "sheet": sheet.number, "entry": sheet.entry.number}
    if sheet.seal.sealed_by_id == act.by.pk:
        words = _(
            "%(by)s sealed sheet %(sheet)s; somebody else who may rule says what "
            "becomes of it."
        )
        raise RefusedError(code="own_seal", sentence=words % filled_in)
    words = _(
        "Car %(entry)s is yours or your family’s to race; somebody else who may rule "
        "says what becomes of sheet %(sheet)s."
    )
    raise RefusedError(code="own_car", sentence=words % filled_in)


def _move_the_car(sheet: Sheet, ruling: Ruling, reason: str, *, act: Act) -> None:
    entry = lock_entry(sheet.entry_id)
    if entry.night.closed_at is not None or last_counting(entry) != sheet:
        return
    why = f"sheet {sheet.number}: {ruling}: {reason}"[:200]
    if entry.state == EntryState.PASSED:
        stands = () if ruling is Ruling.VOID else _undoubted(sheet)
        reopen_car(entry.pk, reason=why, block=None, stands=stands, act=act)
    elif entry.state == EntryState.SENT_BACK:
        move_entry(entry, EntryState.WAITING, act=act, reason=why)


def _undoubted(sheet: Sheet) -> frozenset[str]:
    """Give the columns of a sheet of which some reading is not in doubt."""
    doubtful = doubtful_readings().filter(sheet=sheet).values("pk")
    read = SheetReading.objects.filter(sheet=sheet, strike=None)
    return frozenset(read.exclude(pk__in=doubtful).values_list("column", flat=True))
