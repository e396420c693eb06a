"""Blocks: the flat plates on which cars are measured, by their names."""

from django.db.models import Exists, OuterRef
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods, require_POST

from inspection.actions.night.blocks import (
    add_block,
    man_block,
    remove_block,
    rename_block,
)
from inspection.forms.night.nights import BlockChangeForm, BlockForm
from inspection.models import Block, Sheet
from inventory.access import allow
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page, refusals_told
from inventory.views.turns import in_turn


@require_http_methods(["GET", "POST"])
@allow(Ability.SET_UP_CLUB)
def blocks(request: HttpRequest) -> HttpResponse:
    """List the blocks, and bring another one into use."""
    form = BlockForm(request.POST or None)
    if form.is_valid():
        with form.refusing():
            add_block(form.cleaned_data["name"], act=act_of(request))
            return redirect("inspection:blocks")
    is_named = Exists(Sheet.objects.filter(block=OuterRef("pk")))
    blocks = Block.objects.filter(is_in_use=True).select_related("measured_by")
    blocks = blocks.order_by("name").annotate(is_named=is_named)
    return form_page(
        request,
        form,
        "inspection/night/blocks.html",
        {"blocks": blocks},
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.SET_UP_CLUB)
@in_turn
def block(request: HttpRequest, block_id: int) -> HttpResponse:
    """Rename a block, and say who measures there."""
    block = get_object_or_404(Block.objects.select_related("measured_by"), pk=block_id)
    form = BlockChangeForm(
        request.POST or None,
        initial={"name": block.name, "measured_by": block.measured_by},
    )
    form.of = block
    if form.is_valid():
        cleaned, act = form.cleaned_data, act_of(request)
        with form.refusing():
            now = rename_block(block, cleaned["name"], act=act)
            if now.measured_by != cleaned["measured_by"]:
                man_block(now, cleaned["measured_by"], act=act)
            return redirect("inspection:blocks")
    return form_page(
        request,
        form,
        "inspection/night/block.html",
        {"named": block},
    )


@require_POST
@allow(Ability.SET_UP_CLUB)
def take_away(request: HttpRequest, block_id: int) -> HttpResponse:
    """Take a block away that no sheet names."""
    block = get_object_or_404(Block, pk=block_id)
    with refusals_told(request):
        remove_block(block, act=act_of(request))
    return redirect("inspection:blocks")
