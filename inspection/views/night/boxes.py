"""Caliper boxes: made, put on the block that one measures at, taken off, ended."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from inspection.actions.night.boxes import (
    MadeBox,
    end_box,
    make_box,
    put_box,
    take_box_off,
)
from inspection.forms.night.boxes import BoxForm, PutBoxForm
from inspection.loaders.night.boxes import boxes_to_show, is_on_a_block
from inspection.models import Block
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.loaders.gauges import load_gauges
from inventory.views.acts import act_of, form_page, refusals_told


@never_cache
@require_http_methods(["GET", "POST"])
@allow(Ability.INSPECT_CARS)
def boxes(request: HttpRequest) -> HttpResponse:
    """List the boxes and where they read; make one, and show its token this once."""
    act = act_of(request)
    form = BoxForm(request.POST or None, gauges=load_gauges(act.at))
    made: MadeBox | None = None
    if form.is_valid():
        mode = form.chosen_gauge.mode
        with form.refusing():
            made = make_box(form.cleaned_data["name"], mode, act=act)
    return _page(request, form, made)


@require_POST
@allow(Ability.INSPECT_CARS)
def put(request: HttpRequest, box_id: int) -> HttpResponse:
    """Put a box on a block: it reads for whoever does."""
    form = PutBoxForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Choose the block that the box is put on."))
        return redirect("inspection:boxes")
    block = form.cleaned_data["block"]
    return _do(request, lambda: put_box(box_id, block, act=act_of(request)))


@require_POST
@allow(Ability.INSPECT_CARS)
def off(request: HttpRequest, box_id: int) -> HttpResponse:
    """Take a box off its block."""
    return _do(request, lambda: take_box_off(box_id, act=act_of(request)))


@require_POST
@allow(Ability.INSPECT_CARS)
def end(request: HttpRequest, box_id: int) -> HttpResponse:
    """End a box for good."""
    return _do(request, lambda: end_box(box_id, act=act_of(request)))


def _do(request: HttpRequest, action: Callable[[], Any]) -> HttpResponse:
    with refusals_told(request):
        action()
    return redirect("inspection:boxes")


def _page(request: HttpRequest, form: BoxForm, made: MadeBox | None) -> HttpResponse:
    now = timezone.now()
    usual = Block.objects.filter(measured_by=signed_in(request), is_in_use=True).first()
    put_form = PutBoxForm(initial={"block": usual}, auto_id=False)
    return form_page(
        request,
        form,
        "inspection/night/boxes.html",
        {
            "put_form": put_form,
            "made": made,
            "boxes": [(box, is_on_a_block(box, now)) for box in boxes_to_show()],
            "has_blocks": Block.objects.filter(is_in_use=True).exists(),
        },
    )
