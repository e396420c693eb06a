"""Moves of an entry that want a reason: off the block, withdrawn and back, reopened."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from inspection.actions.race_nights import (
    take_off_block,
    undo_withdrawal,
    withdraw_entry,
)
from inspection.actions.sheets import last_counting, reopen_car
from inspection.forms.night.tonight import ReasonForm, ReopenForm
from inspection.loaders.block.readings import is_struck, load_readings
from inspection.models import Entry, SheetReading
from inventory.access import allow
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page


@require_http_methods(["GET", "POST"])
@allow(Ability.INSPECT_CARS)
def take_off(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Take a car off the block that was put there by mistake, with a reason."""
    return _with_reason(
        request,
        entry_id,
        take_off_block,
        heading=_("Take car %(number)s off the block"),
        button=_("Off the block"),
        explanation=_(
            "Its sheet becomes void: what was read is kept and counts for nothing. "
            "The car waits again."
        ),
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.INSPECT_CARS)
def withdraw(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Take a car out of tonight's racing, with a reason."""
    return _with_reason(
        request,
        entry_id,
        withdraw_entry,
        heading=_("Withdraw car %(number)s"),
        button=_("Withdraw"),
        explanation=_("A sheet that is open becomes void."),
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.INSPECT_CARS)
def undo(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Bring a withdrawn car back to where it stood, with a reason."""
    return _with_reason(
        request,
        entry_id,
        undo_withdrawal,
        heading=_("Car %(number)s is not withdrawn"),
        button=_("It races after all"),
        explanation=_(
            "It stands where it stood before; one that was on the block waits."
        ),
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.REOPEN_CARS)
def reopen(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Bring a passed car back on the block: why, and what of its sheet stands."""
    entry = _entry(entry_id)
    form = ReopenForm(request.POST or None, read=_read(entry))
    if form.is_valid():
        with form.refusing():
            sheet = reopen_car(
                entry.pk,
                reason=form.cleaned_data["reason"],
                stands=form.cleaned_data.get("stands", ()),
                block=None,
                act=act_of(request),
            )
            return redirect("inspection:block", number=sheet.number)
    return _page(
        request,
        entry,
        form,
        heading=_("Reopen car %(number)s"),
        button=_("Back on the block"),
        explanation=_(
            "A sealed sheet is never changed: a new one replaces it, and both say so."
        ),
    )


def _read(entry: Entry) -> list[tuple[str, str]]:
    """Give the columns that the last sheet read, each with what was read."""
    last = last_counting(entry)
    readings_by_column: dict[str, list[SheetReading]] = {}
    for one in load_readings(last) if last else []:
        if not is_struck(one):
            readings_by_column.setdefault(one.column, []).append(one)
    return [
        (column, f"{of[-1].label}: {', '.join(one.text for one in of)}")
        for column, of in readings_by_column.items()
    ]


def _entry(entry_id: int) -> Entry:
    return get_object_or_404(Entry.objects.select_related("car"), pk=entry_id)


def _with_reason(
    request: HttpRequest,
    entry_id: int,
    move: Callable[..., Entry],
    **words: str,
) -> HttpResponse:
    entry = _entry(entry_id)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        with form.refusing():
            move(entry.pk, reason=form.cleaned_data["reason"], act=act_of(request))
            return redirect("inspection:tonight")
    return _page(request, entry, form, **words)


def _page(
    request: HttpRequest, entry: Entry, form: ReasonForm, **words: Any
) -> HttpResponse:
    words["heading"] %= {"number": entry.number}
    return form_page(
        request,
        form,
        "inspection/night/reason.html",
        {"entry": entry, **words},
    )
