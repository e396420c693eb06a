"""On the block: one reading at a time, and the rules turning to outcomes."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET, require_POST

from inspection.access import SCRUTINEERS
from inspection.actions.readings import Taken, strike_reading, take_reading
from inspection.actions.seals import seal_sheet
from inspection.compute.entries import Decision
from inspection.drawing.rear_view import describe_rear_view, draw_rear_view
from inspection.drawing.side_view import describe_side_view, draw_side_view
from inspection.forms.block import ReadingForm
from inspection.forms.tonight import ReasonForm
from inspection.loaders.pictures import figures_of
from inspection.loaders.sheets import (
    LoadedSheet,
    load_sheet,
    quantity_of,
    sheets_to_load,
)
from inspection.loaders.steps import Step, load_steps
from inspection.models import Sheet
from inspection.views.tonight import act_of
from inventory.access import allow
from inventory.actions.refusals import RefusedError
from inventory.loaders.gauges import load_gauges


@require_GET
@allow(SCRUTINEERS)
def block(request: HttpRequest, number: str) -> HttpResponse:
    """Show the car on the block; a sealed sheet is shown as its record."""
    sheet = open_sheet(number)
    if sheet.is_sealed:
        return redirect("inspection:sheet", number=number)
    page = block_page(request, load_sheet(sheet), column=request.GET.get("column"))
    template = "block_aside" if request.headers.get("HX-Request") else "block"
    return render(request, f"inspection/{template}.html", page)


@require_POST
@allow(SCRUTINEERS)
def add_reading(request: HttpRequest, number: str) -> HttpResponse:
    """Take one reading and answer with the outcomes; ask about a strange one."""
    form = ReadingForm(request.POST)
    if not form.is_valid():
        return _answer(request, number, form=form, taken=None)
    typed = form.typed()
    try:
        taken = take_reading(number, typed, act=act_of(request))
    except Sheet.DoesNotExist as error:
        raise no_sheet(number) from error
    except RefusedError as refusal:
        form.refuse(refusal)
        return _answer(request, number, form=form, taken=None)
    if typed.gauge_mode_id is not None and not wants_json(request):
        _remember_gauge(request, typed.column, typed.gauge_mode_id)
    return _answer(request, number, form=form, taken=taken)


@require_POST
@allow(SCRUTINEERS)
def strike(request: HttpRequest, number: str, reading_id: int) -> HttpResponse:
    """Strike a reading, with a reason."""
    form = ReasonForm(request.POST)
    reason = form.cleaned_data["reason"] if form.is_valid() else ""
    try:
        strike_reading(number, reading_id, reason=reason, act=act_of(request))
    except Sheet.DoesNotExist as error:
        raise no_sheet(number) from error
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
    return redirect("inspection:block", number=number)


@require_POST
@allow(SCRUTINEERS)
def seal(request: HttpRequest, number: str) -> HttpResponse:
    """Sign the sheet: the car passed, or is sent back."""
    wanted = request.POST.get("decision", "")
    if wanted not in list(Decision):
        messages.error(request, f"“{wanted}” is neither passed nor sent back.")
        return redirect("inspection:block", number=number)
    try:
        seal_sheet(number, decision=Decision(wanted), act=act_of(request))
    except Sheet.DoesNotExist as error:
        raise no_sheet(number) from error
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inspection:block", number=number)
    return redirect("inspection:sheet", number=number)


def open_sheet(number: str) -> Sheet:
    """Give the sheet of a number, or 404."""
    sheet = sheets_to_load().filter(number=number).first()
    if sheet is None:
        raise no_sheet(number)
    return sheet


def no_sheet(number: str) -> Http404:
    """Say that there is no such sheet."""
    return Http404(f"There is no sheet {number}.")


def wants_json(request: HttpRequest) -> bool:
    """Whether a script asks, and not a form."""
    return request.headers.get("Accept") == "application/json"


def block_page(
    request: HttpRequest, loaded: LoadedSheet, *, column: str | None = None
) -> dict[str, Any]:
    """Give the block page's context."""
    # A script has the gauges since the page was opened.
    gauges = [] if wants_json(request) else load_gauges(timezone.now())
    steps = load_steps(loaded, gauges)
    step = _current(steps, column)
    figures = figures_of(loaded)
    gauge_id = _gauge_id(request, step)
    return {
        "loaded": loaded,
        "sheet": loaded.sheet,
        "steps": steps,
        "step": step,
        "gauge_id": gauge_id,
        "form": ReadingForm.blank(step.column, gauge_id) if step else None,
        "done_count": sum(step.is_done for step in steps if step.is_tonight),
        "tonight_count": sum(step.is_tonight for step in steps),
        "rear_view": mark_safe(draw_rear_view(figures)),  # noqa: S308
        "side_view": mark_safe(draw_side_view(figures)),  # noqa: S308
        "sentences": [*describe_rear_view(figures), *describe_side_view(figures)],
        "steps_data": [_step_data(request, one) for one in steps],
    }


def _current(steps: tuple[Step, ...], column: str | None) -> Step | None:
    by_column = {step.column: step for step in steps}
    if column in by_column:
        return by_column[column]
    waiting = (step for step in steps if step.is_tonight and not step.is_done)
    return next(waiting, None)


def _gauge_id(request: HttpRequest, step: Step | None) -> int | None:
    if step is None or not step.gauges:
        return None
    kept = request.session.get("gauges", {})
    usual = step.quantity.gauges[0] if step.quantity.gauges else ""
    remembered = kept.get(str(usual))
    if any(one.mode.pk == remembered for one in step.gauges):
        return int(remembered)
    usable = [one for one in step.gauges if not one.is_barred]
    return usable[0].mode.pk if usable else None


def _remember_gauge(request: HttpRequest, column: str, gauge_mode_id: int) -> None:
    quantity = quantity_of(column)
    if not quantity.gauges:
        return
    kept = request.session.get("gauges", {})
    if kept.get(str(quantity.gauges[0])) != gauge_mode_id:
        request.session["gauges"] = kept | {str(quantity.gauges[0]): gauge_mode_id}


def _step_data(request: HttpRequest, step: Step) -> dict[str, Any]:
    return {
        "column": step.column,
        "label": step.label,
        "unit": step.quantity.unit.symbol,
        "kind": step.kind.value,
        "how": step.quantity.how,
        "is_tonight": step.is_tonight,
        "is_done": step.is_done,
        "limit": step.limit,
        "gauge": _gauge_id(request, step),
        "gauges": [
            {"id": one.mode.pk, "name": str(one.mode), "standing": str(one.standing)}
            for one in step.gauges
        ],
    }


def _answer(
    request: HttpRequest, number: str, *, form: ReadingForm, taken: Taken | None
) -> HttpResponse:
    """Answer a plain form with the page, a script with what became of it."""
    sheet = taken.sheet if taken else open_sheet(number)
    loaded = load_sheet(sheet, taken.readings if taken else None)
    written = taken is not None and taken.reading is not None
    page = block_page(
        request, loaded, column=None if written else request.POST.get("column")
    )
    question = taken.question if taken else None
    if not written:
        page["form"] = form
    page |= {"question": question, "warning": taken.warning if taken else ""}
    status = 200 if written else 409 if question else 422
    if wants_json(request):
        return JsonResponse(_as_json(request, page, form), status=status)
    if written:
        return redirect("inspection:block", number=sheet.number)
    return render(request, "inspection/block.html", page, status=status)


def _as_json(
    request: HttpRequest, page: dict[str, Any], form: ReadingForm
) -> dict[str, Any]:
    question = page["question"]
    return {
        "question": (
            {"sentence": question.sentence, "suggestion": question.suggestion}
            if question
            else None
        ),
        "errors": form.errors.get_json_data(),
        "warning": page["warning"],
        "done": [step.column for step in page["steps"] if step.is_done],
        "aside": render(request, "inspection/block_aside.html", page).content.decode(),
    }
