"""Protests: raising one, who hears it, measuring again, the ruling and the appeal."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.actions.rulings.protests import (
    appeal,
    measure_again,
    name_hearer,
    raise_protest,
    rule_on_protest,
    set_protest_time,
)
from inspection.actions.sheets import last_counting
from inspection.compute.night import EntryState, ProtestRuling
from inspection.forms.night.protests import (
    ClaimForm,
    HearerForm,
    ProtestForm,
    ProtestRulingForm,
    ProtestTimeForm,
)
from inspection.loaders.night.protests import (
    load_protest,
    minutes_to_protest,
    protests_seen_by,
)
from inspection.models import Entry, Protest, RaceNight
from inspection.models.car_numbers import by_number
from inventory.access import allow, signed_in
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.forms.base import PageForm
from inventory.views.acts import act_of, form_page


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
def protest_against(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Protest against a car of the night, or the ruling on it."""
    entry = get_object_or_404(
        Entry.objects.select_related("car", "night", "race_class"), pk=entry_id
    )
    last = last_counting(entry)
    named = entry.night.classes.filter(race_class=entry.race_class)
    editions = (
        [last.edition_id] if last else list(named.values_list("edition", flat=True))
    )
    form = ProtestForm(request.POST or None, editions=editions)
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            raised = raise_protest(
                entry.pk, cleaned["rule"], claim=cleaned["claim"], act=act_of(request)
            )
            return redirect("inspection:protest", protest_id=raised.pk)
    minutes = minutes_to_protest(entry.race_class_id)
    return form_page(
        request,
        form,
        "inspection/night/reason.html",
        {
            "entry": entry,
            "heading": _("Protest against car %(number)s") % {"number": entry.number},
            "explanation": _(
                "Drivers, owners and officials of the night protest, until %(minutes)s "
                "minutes after the sheet was sealed."
            )
            % {"minutes": minutes},
            "button": _("Protest"),
        },
    )


@require_GET
@allow(Ability.LOOK)
def night_protests(request: HttpRequest, night_id: int) -> HttpResponse:
    """List a night's protests, and how long each class may protest."""
    return _list(request, get_object_or_404(RaceNight, pk=night_id), None)


@require_POST
@allow(Ability.RUN_NIGHTS)
def protest_time(request: HttpRequest, night_id: int) -> HttpResponse:
    """Say how long after a ruling a class may protest."""
    night = get_object_or_404(RaceNight, pk=night_id)
    form = ProtestTimeForm(request.POST, night=night)
    if not form.is_valid():
        return _list(request, night, form)
    cleaned = form.cleaned_data
    set_protest_time(cleaned["race_class"], cleaned["minutes"], act=act_of(request))
    return redirect("inspection:protests", night_id=night.pk)


@require_GET
@allow(Ability.LOOK)
def protest(request: HttpRequest, protest_id: int) -> HttpResponse:
    """Show one protest: what it says, who hears it, what was measured and ruled."""
    return _page(request, _found(request, protest_id))


@require_POST
@allow(Ability.LOOK)
def measure(request: HttpRequest, protest_id: int) -> HttpResponse:
    """Bring the car back on the block, for other hands."""
    _found(request, protest_id)
    try:
        sheet = measure_again(protest_id, act=act_of(request))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inspection:protest", protest_id=protest_id)
    return redirect("inspection:sheet", number=sheet.number)


@require_POST
@allow(Ability.MANAGE_PEOPLE)
def hearer(request: HttpRequest, protest_id: int) -> HttpResponse:
    """Name who hears a protest in place of a chief who is concerned."""
    protest = _found(request, protest_id)
    form = HearerForm(request.POST)
    if form.is_valid():
        with form.refusing():
            name_hearer(protest_id, form.cleaned_data["person"], act=act_of(request))
            return redirect("inspection:protest", protest_id=protest_id)
    return _page(request, protest, hearer_form=form)


@require_POST
@allow(Ability.LOOK)
def rule(request: HttpRequest, protest_id: int) -> HttpResponse:
    """Uphold or reject a protest, or withdraw one's own."""
    protest = _found(request, protest_id)
    form = ProtestRulingForm(request.POST)
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            rule_on_protest(
                protest_id,
                ProtestRuling(cleaned["ruling"]),
                reason=cleaned["reason"],
                act=act_of(request),
            )
            return redirect("inspection:protest", protest_id=protest_id)
    return _page(request, protest, ruling_form=form)


@require_POST
@allow(Ability.LOOK)
def appeal_against(request: HttpRequest, protest_id: int) -> HttpResponse:
    """Appeal to the club against the ruling: a second protest."""
    protest = _found(request, protest_id)
    form = ClaimForm(request.POST)
    if form.is_valid():
        with form.refusing():
            second = appeal(
                protest_id, claim=form.cleaned_data["claim"], act=act_of(request)
            )
            return redirect("inspection:protest", protest_id=second.pk)
    return _page(request, protest, appeal_form=form)


def _found(request: HttpRequest, protest_id: int) -> Protest:
    protest = protests_seen_by(signed_in(request)).filter(pk=protest_id).first()
    if protest is None:
        msg = f"There is no protest {protest_id} for you to see."
        raise Http404(msg)
    return protest


def _page(request: HttpRequest, protest: Protest, **refused: PageForm) -> HttpResponse:
    loaded, person = load_protest(protest), signed_in(request)
    parts = {protest.by_id, protest.entry.driver_id, protest.entry.car.owner_id}
    hears, raised_it = loaded.may_be_heard_by(person), person.pk == protest.by_id
    context: dict[str, Any] = {
        "loaded": loaded,
        "protest": protest,
        "name": _("Protest %(protest)s against %(car)s")
        % {"protest": protest.pk, "car": protest.entry.number},
        "minutes": minutes_to_protest(protest.entry.race_class_id),
        "may_measure": hears and protest.entry.state == EntryState.PASSED,
        "may_rule": not loaded.is_ruled and (hears or raised_it),
        "may_only_withdraw": not hears,
        "is_concerned_chief": not loaded.is_ruled
        and person.pk in loaded.concerned
        and person.may(Ability.RULE_ON_SHEETS),
        "may_appeal": loaded.is_ruled
        and person.pk in parts
        and protest.appeal_of_id is None
        and not hasattr(protest, "appeal"),
        "hearer_form": HearerForm(),
        "ruling_form": ProtestRulingForm(),
        "appeal_form": ClaimForm(),
    } | refused
    context["ruling_form"].offer(hears=hears, may_withdraw=raised_it)
    return render(
        request,
        "inspection/night/protest.html",
        context,
        status=422 if refused else 200,
    )


def _list(
    request: HttpRequest, night: RaceNight, form: ProtestTimeForm | None
) -> HttpResponse:
    seen = protests_seen_by(signed_in(request)).filter(entry__night=night)
    classes = [one.race_class for one in night.classes.select_related("race_class")]
    return render(
        request,
        "inspection/night/protests.html",
        {
            "night": night,
            "protests": seen,
            "entries": night.entries.select_related(
                "car", "race_class", "driver"
            ).order_by(*by_number()),
            "times": [(one, minutes_to_protest(one.pk)) for one in classes],
            "form": form or ProtestTimeForm(night=night),
        },
        status=422 if form else 200,
    )
