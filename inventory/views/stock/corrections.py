"""What is said of a part put right: its facts, its readings, its retirement."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from inventory.access import allow
from inventory.actions.corrections.facts import correct_part
from inventory.actions.corrections.strikes import strike_part_reading
from inventory.actions.stock import restore_part
from inventory.compute.roles import Ability
from inventory.forms.corrections import CorrectPartForm, ReasonForm, StrikeForm
from inventory.loaders.parts import counted_readings
from inventory.views.acts import act_of
from inventory.views.stock.parts import part_of, part_page


@require_POST
@allow(Ability.KEEP_PARTS)
def correct(request: HttpRequest, tag: str) -> HttpResponse:
    """Put right what is said of a part, with a reason."""
    one = part_of(request, tag)
    form = CorrectPartForm(request.POST, part=one)
    if form.is_valid():
        with form.refusing():
            correct_part(one, form.said(), act=act_of(request))
            return redirect("inventory:part", tag=one.tag)
    return part_page(request, one, correct_form=form)


@require_POST
@allow(Ability.KEEP_PARTS)
def strike(request: HttpRequest, tag: str) -> HttpResponse:
    """Strike a reading of a part, with a reason."""
    one = part_of(request, tag)
    form = StrikeForm(request.POST, readings=counted_readings(one))
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            strike_part_reading(
                form.chosen, reason=cleaned["reason"], act=act_of(request)
            )
            return redirect("inventory:part", tag=one.tag)
    return part_page(request, one, strike_form=form)


@require_POST
@allow(Ability.KEEP_PARTS)
def restore(request: HttpRequest, tag: str) -> HttpResponse:
    """Take a retirement back, with a reason."""
    one, form = part_of(request, tag), ReasonForm(request.POST)
    if form.is_valid():
        with form.refusing():
            restore_part(one, reason=form.cleaned_data["reason"], act=act_of(request))
            return redirect("inventory:part", tag=one.tag)
    return part_page(request, one, restore_form=form)
