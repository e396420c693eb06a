"""On the block: one reading at a time, and the rules turning to outcomes."""

import uuid
from itertools import chain
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from inspection.actions.cars import confirm_on_block
from inspection.actions.readings import (
    Taken,
    TypedReading,
    strike_doubtful,
    strike_reading,
    take_looks,
    take_reading,
)
from inspection.actions.seals import seal_sheet
from inspection.compute.night import Decision, SheetState
from inspection.forms.block import ReadingForm, StrikeForm, TakeOverForm
from inspection.loaders.block.notes import noted
from inspection.loaders.block.sheets import LoadedSheet, load_sheet, sheet_of_number
from inspection.loaders.block.steps import (
    Step,
    answered_at_once,
    load_steps,
    next_step,
)
from inspection.models import Sheet
from inspection.views.block.bench import bench_of, remember_gauge
from inspection.views.block.pieces import (
    changed_pieces,
    pieces_of,
    pieces_that_follow,
    rule_groups,
    rules_told,
    views_of,
)
from inspection.views.block.words import block_words
from inventory.access import allow, signed_in
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.loaders.gauges import load_gauges
from inventory.views.acts import act_of, refusals_told


@require_GET
@allow(Ability.INSPECT_CARS)
def block(request: HttpRequest, number: str) -> HttpResponse:
    """Show the car on the block; tell a script what has changed since it asked."""
    sheet = open_sheet(number)
    if wants_json(request):
        return _news(request, sheet)
    if sheet.state is not SheetState.OPEN:
        return redirect("inspection:sheet", number=number)
    form = ReadingForm.blank(request.GET)
    return _page(request, load_sheet(sheet), form)


@require_POST
@allow(Ability.INSPECT_CARS)
def add_reading(request: HttpRequest, number: str) -> HttpResponse:
    """Take one reading and answer with the outcomes; ask about a strange one."""
    form = ReadingForm(request.POST, by=signed_in(request))
    taken = None
    if form.is_valid():
        try:
            taken = take_reading(number, form.typed(), act=act_of(request))
        except Sheet.DoesNotExist as error:
            raise no_sheet(number) from error
        except RefusedError as refusal:
            form.refuse(refusal)
    if wants_json(request):
        return _reading_answer(request, number, form, taken)
    if taken is None or taken.reading is None:
        loaded = load_sheet(taken.sheet if taken else open_sheet(number))
        return _page(request, loaded, form, taken)
    remember_gauge(request, taken.reading)
    return redirect("inspection:block", number=number)


@require_POST
@allow(Ability.INSPECT_CARS)
def add_looks(request: HttpRequest, number: str) -> HttpResponse:
    """Answer all that was looked at as it should be, where the edition says so."""
    steps = load_steps(load_sheet(open_sheet(number)), [])
    looks = [
        TypedReading(reading_id=uuid.uuid4(), column=one.column, answer=one.at_once)
        for one in answered_at_once(steps)
    ]
    with refusals_told(request):
        take_looks(number, looks, act=act_of(request))
    return redirect("inspection:block", number=number)


@require_POST
@allow(Ability.INSPECT_CARS)
def strike(request: HttpRequest, number: str, reading_id: int) -> HttpResponse:
    """Strike a reading, with a reason."""
    form = StrikeForm(request.POST)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        try:
            strike_reading(number, reading_id, reason=reason, act=act_of(request))
        except Sheet.DoesNotExist as error:
            raise no_sheet(number) from error
        except RefusedError as refusal:
            form.refuse(refusal)
    if wants_json(request):
        status = 422 if form.errors else 200
        sheet = open_sheet(number)
        return JsonResponse(_answer(request, sheet, None, form), status=status)
    for sentence in sentences_of_errors(form):
        messages.error(request, sentence)
    return redirect("inspection:block", number=number)


@require_POST
@allow(Ability.INSPECT_CARS)
def strike_in_doubt(request: HttpRequest, number: str, check_id: int) -> HttpResponse:
    """Strike all that a gauge read on the sheet before it failed a check."""
    try:
        strike_doubtful(number, check_id, act=act_of(request))
    except Sheet.DoesNotExist as error:
        raise no_sheet(number) from error
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
    return redirect("inspection:block", number=number)


@require_POST
@allow(Ability.INSPECT_CARS)
def as_stored(request: HttpRequest, number: str) -> HttpResponse:
    """Say of the car on the block that it is what it is registered as."""
    try:
        confirm_on_block(number, act=act_of(request))
    except Sheet.DoesNotExist as error:
        raise no_sheet(number) from error
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
    return redirect("inspection:block", number=number)


@require_POST
@allow(Ability.SEAL_SHEETS)
def seal(request: HttpRequest, number: str) -> HttpResponse:
    """Sign the sheet: the car passed, or is sent back."""
    wanted = request.POST.get("decision", "")
    if wanted not in list(Decision):
        messages.error(
            request,
            _("“%(wanted)s” is neither passed nor sent back.") % {"wanted": wanted},
        )
        return redirect("inspection:block", number=number)
    try:
        seal_sheet(
            number,
            decision=Decision(wanted),
            reason=request.POST.get("reason", ""),
            act=act_of(request),
        )
    except Sheet.DoesNotExist as error:
        raise no_sheet(number) from error
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inspection:block", number=number)
    return redirect("inspection:sheet", number=number)


def open_sheet(number: str) -> Sheet:
    """Give the sheet of a number, or 404."""
    sheet = sheet_of_number(number)
    if sheet is None:
        raise no_sheet(number)
    return sheet


def no_sheet(number: str) -> Http404:
    """Say that there is no such sheet."""
    return Http404(_("There is no sheet %(number)s.") % {"number": number})


def wants_json(request: HttpRequest) -> bool:
    """Whether a script asks, and not a form."""
    return request.headers.get("Accept") == "application/json"


def sentences_of_errors(form: ReadingForm | StrikeForm) -> list[str]:
    """Give what a form was refused for."""
    return [str(error) for errors in form.errors.values() for error in errors]


def _page(
    request: HttpRequest,
    loaded: LoadedSheet,
    form: ReadingForm,
    taken: Taken | None = None,
) -> HttpResponse:
    steps = load_steps(loaded, load_gauges(timezone.now()))
    question = taken.question if taken else None
    status = 200 if not form.is_bound else 409 if question else 422
    pieces = pieces_of(request, loaded, steps)
    return render(
        request,
        "inspection/block/block.html",
        {
            "loaded": loaded,
            "sheet": loaded.sheet,
            "question": question,
            "pieces": pieces,
            "views": list(views_of(loaded)),
            "rule_groups": rule_groups(pieces["rules"]),
            **bench_of(request, steps, form),
            "carried": [step for step in steps if step.is_carried],
            "again": _again(loaded, steps),
            "words": block_words(),
            "take_over": TakeOverForm(here=signed_in(request)),
            **noted(loaded.sheet),
        },
        status=status,
    )


def _again(loaded: LoadedSheet, steps: tuple[Step, ...]) -> list[Step]:
    """Give what a re-check still wants taken again."""
    if loaded.sheet.previous_id is None:
        return []
    return [step for step in steps if step.is_asked and not step.is_done]


def _reading_answer(
    request: HttpRequest, number: str, form: ReadingForm, taken: Taken | None
) -> JsonResponse:
    sheet = taken.sheet if taken else open_sheet(number)
    answer = _answer(request, sheet, taken, form)
    status = 422
    if taken is not None:
        question = taken.question
        status = 409 if question else 200
        answer |= {
            "reading": taken.reading.pk if taken.reading else None,
            "question": question.sentence if question else "",
            "suggestion": question.suggestion if question else "",
        }
    return JsonResponse(answer, status=status)


def _answer(
    request: HttpRequest,
    sheet: Sheet,
    taken: Taken | None,
    form: ReadingForm | StrikeForm,
) -> dict[str, Any]:
    """Say what changed for a script that sent the tags of what it has."""
    loaded = load_sheet(sheet, taken.readings if taken else None)
    errors = [
        {"field": name, "code": error.code, "sentence": " ".join(error.messages)}
        for name, errors in form.errors.as_data().items()
        for error in errors
    ]
    return {"errors": errors, **changes_of(request, loaded)}


def changes_of(
    request: HttpRequest, loaded: LoadedSheet, *, is_whole: bool = False
) -> dict[str, Any]:
    """
    Say what a script does not have yet, and who is signed in where it runs.

    What is drawn and folded only where the ``is_whole`` page is asked for.
    """
    steps = load_steps(loaded, [])
    have = (request.POST.get("have") or request.GET.get("have", "")).split()
    pieces = pieces_of(request, loaded, steps)
    changed = changed_pieces(chain.from_iterable(pieces.values()), have)
    following = pieces_that_follow(pieces, loaded) if is_whole else []
    values = {step.column: step.text for step in steps if step.is_done}
    told = rules_told(changed.values())
    asked_next = next_step(steps)
    return {
        "token": get_token(request),
        "person": str(request.user.pk),
        "name": str(request.user),
        "sealed": _ended(loaded.sheet),
        "pieces": {
            **{key: piece.seen for key, piece in changed.items()},
            **{key: one.html for key, one in changed_pieces(following, have).items()},
        },
        "follows": bool(changed) and not is_whole,
        "said": [rule.said for rule in told],
        "is_alarm": any(rule.is_alarm for rule in told),
        "values": values,
        "next": asked_next.column if asked_next else "",
    }


def _news(request: HttpRequest, sheet: Sheet) -> HttpResponse:
    changes = changes_of(request, load_sheet(sheet), is_whole=True)
    if not changes["pieces"] and not changes["sealed"]:
        return HttpResponse(status=204)
    return JsonResponse(changes)


def _ended(sheet: Sheet) -> dict[str, str] | None:
    if sheet.state is SheetState.OPEN:
        return None
    return {
        "sentence": _("Sheet %(sheet)s was taken off the block by %(by)s: %(reason)s.")
        % {"sheet": sheet.number, "by": sheet.void.by, "reason": sheet.void.reason}
        if sheet.is_void
        else _("Sheet %(sheet)s was sealed by %(sealed_by)s: %(decision)s.")
        % {
            "sheet": sheet.number,
            "sealed_by": sheet.seal.sealed_by,
            "decision": sheet.seal.decision,
        },
        "address": reverse("inspection:sheet", args=[sheet.number]),
    }
