"""Sheets: the record as it is read on screen and printed on paper."""

from functools import partial
from statistics import NormalDist
from typing import Any, Final
from urllib.parse import urlsplit

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET

from inspection.access import sheets_seen_by
from inspection.compute.judging import JUDGING, Outcome
from inspection.compute.night import Decision
from inspection.compute.quantities import WORDS_OF_CAR, Source
from inspection.drawing.rear_view import draw_rear_view
from inspection.drawing.side_view import draw_side_view
from inspection.loaders.block.doubts import doubts_of
from inspection.loaders.block.notes import noted
from inspection.loaders.block.sheets import LoadedSheet, load_sheet, sheets_to_load
from inspection.loaders.block.values import ColumnValue
from inspection.loaders.night.board import next_waiting
from inspection.loaders.night.own_cars import leaves_ruling_to_others
from inspection.loaders.pictures import figures_of
from inspection.loaders.seals.signed import Signed, Unreadable, load_signed
from inspection.models import JudgedAgain, Protest, Sheet, SheetPart, SheetReading
from inspection.views.block.for_driver import for_driver
from inspection.views.block.found_rules import FoundRule
from inspection.views.block.rules_of_sheet import rules_of
from inventory.access import allow, signed_in
from inventory.compute.hosts import is_loopback
from inventory.compute.roles import Ability
from inventory.drawing.codes import draw_code
from inventory.models import Person
from inventory.views.addresses import printed_address

#: Rules and readings up to which one page has room for larger drawings.
ROWS_OF_A_ROOMY_PAGE: Final = 26


@require_GET
@allow(Ability.LOOK)
def sheet(request: HttpRequest, number: str) -> HttpResponse:
    """Show one sheet with all that its record holds."""
    seen = sheets_seen_by(signed_in(request), sheets_to_load())
    sheet = seen.filter(number=number).first()
    if sheet is None:
        msg = f"There is no sheet {number} for you to see."
        raise Http404(msg)
    signed = load_signed(sheet.seal) if sheet.is_sealed else None
    if isinstance(signed, Unreadable):
        page = {"sheet": sheet, "differences": signed.differences}
        return render(request, "inspection/seals/unreadable.html", page)
    loaded = load_sheet(sheet)
    page = _page(request, loaded, signed)
    return render(request, "inspection/block/sheet.html", page)


def _page(
    request: HttpRequest, loaded: LoadedSheet, signed: Signed | None
) -> dict[str, Any]:
    figures = figures_of(loaded)
    address = printed_address(
        request, reverse("inspection:sheet", args=[loaded.sheet.number])
    )
    after = Sheet.objects.counting().filter(previous=loaded.sheet)
    superseded_by = after.values_list("number", flat=True).first()
    rules = sorted(rules_of(loaded), key=_reading_order)
    failing = [rule for rule in rules if rule.is_failing]
    asked = [r for r in rules if r.found.outcome is not Outcome.NOT_APPLICABLE]
    host = urlsplit(address).hostname or ""
    return {
        "loaded": loaded,
        "today": JUDGING,
        "sheet": loaded.sheet,
        "signed": signed,
        "rules": rules,
        "for_driver": for_driver(loaded, rules),
        "failing": failing,
        "failing_numbers": ", ".join(rule.found.rule.number for rule in failing),
        "met_count": sum(one.found.is_admitted for one in asked),
        "judged_count": len(asked),
        # The drawings take what the page has left.
        "is_roomy": len(rules) + len(loaded.readings) <= ROWS_OF_A_ROOMY_PAGE,
        "missing": [r for r in rules if r.found.outcome is Outcome.NOT_MEASURED],
        "parts": SheetPart.objects.filter(sheet=loaded.sheet).select_related("part"),
        "instruments": _instruments(loaded.readings),
        "only_person": _only_person(loaded.readings),
        "is_by_concerned": _is_by_concerned(loaded, signed),
        "other_values": _other_values(loaded),
        "superseded_by": superseded_by,
        "protests": Protest.objects.filter(entry=loaded.sheet.entry).select_related(
            "entry", "rule", "by", "ruled"
        ),
        "judged_again": JudgedAgain.objects.filter(sheet=loaded.sheet)
        .select_related("move__after__rulebook", "ruling__by", "ruling__sheet__seal")
        .order_by("pk"),
        "doubts": doubts_of(loaded.sheet.pk).get(loaded.sheet.pk, []),
        # Asked only where there is something to rule on.
        "leaves_ruling": partial(
            leaves_ruling_to_others, signed_in(request), loaded.sheet
        ),
        **noted(loaded.sheet),
        "moves": loaded.sheet.entry.moves.select_related("by"),
        "shows_remedies": _is_sent_back(signed) and not superseded_by,
        "next_entry": next_waiting(loaded.sheet.entry.night_id),
        "percent": f"{100 * loaded.edition.confidence:g}",
        "risk": f"{100 * (1 - loaded.edition.confidence):g}",
        "factor": f"{NormalDist().inv_cdf(loaded.edition.confidence):.3f}",
        "address": address,
        # Only the machine that printed it would find itself under a loopback address.
        "qr": None
        if is_loopback(host)
        else mark_safe(draw_code(address, words=loaded.sheet.number)),  # noqa: S308
        "rear_view": mark_safe(draw_rear_view(figures)),  # noqa: S308
        "side_view": mark_safe(draw_side_view(figures)),  # noqa: S308
    }


def _reading_order(rule: FoundRule) -> int:
    """Put what fails first, then what was not measured; else as the rulebook has it."""
    if rule.is_failing:
        return 0
    return 1 if rule.found.outcome is Outcome.NOT_MEASURED else 2


def _is_by_concerned(loaded: LoadedSheet, signed: Signed | None) -> bool:
    """Whether the owner, the driver or their family looked, measured or sealed."""
    words = [loaded.values[key] for key in WORDS_OF_CAR if key in loaded.values]
    looked = [one.said_by_id for one in words if one.source is Source.STORED]
    return (
        any(one.is_own_car for one in loaded.readings)
        or (signed is not None and signed.is_own_car)
        or any(person in loaded.sheet.concerned for person in looked)
    )


def _is_sent_back(signed: Signed | None) -> bool:
    return signed is not None and signed.decision is Decision.SENT_BACK


def _instruments(readings: list[SheetReading]) -> list[SheetReading]:
    """Give one reading by each gauge, mode and check: what it was taken with."""
    reading_by_gauge: dict[tuple[int | None, int | None], SheetReading] = {}
    for reading in readings:
        if reading.gauge_mode is not None:
            reading_by_gauge.setdefault(
                (reading.gauge_mode_id, reading.gauge_check_id), reading
            )
    return list(reading_by_gauge.values())


def _other_values(loaded: LoadedSheet) -> dict[str, list[ColumnValue]]:
    """Give what the rules rest on besides this sheet's readings, by its source."""
    values_by_source: dict[str, list[ColumnValue]] = {}
    for column in [*loaded.to_take.tonight, *loaded.to_take.stored]:
        value = loaded.values.get(column)
        if value is not None and not value.reading_ids:
            source = ", ".join(filter(None, [value.source, value.gauge_name]))
            values_by_source.setdefault(source, []).append(value)
    return values_by_source


def _only_person(readings: list[SheetReading]) -> Person | None:
    """Give the one person who took all readings, if it was one."""
    people = {reading.by_id: reading.by for reading in readings}
    return next(iter(people.values())) if len(people) == 1 else None
