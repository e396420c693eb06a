"""On the wall: notices, how we measure here, blank sheets, every sheet in one print."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.actions.night.notices import hang_notice, take_notice_down
from inspection.compute.night import NoticeKind
from inspection.compute.quantities import Quantity
from inspection.drawing.where_to_measure import draw_where_to_measure
from inspection.forms.night.notices import NoticeForm
from inspection.loaders.night.prints import load_prints
from inspection.loaders.night.walls import (
    blank_sheets,
    how_sheets_of_the_club,
    notices_now,
)
from inspection.models import Notice, RaceNight
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page, refusals_told


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
def notices(request: HttpRequest) -> HttpResponse:
    """Show the notices; whoever runs the nights hangs another."""
    may_hang = signed_in(request).may(Ability.RUN_NIGHTS)
    form = NoticeForm((request.POST or None) if may_hang else None)
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            hang_notice(
                cleaned["text"], kind=NoticeKind(cleaned["kind"]), act=act_of(request)
            )
            return redirect("inspection:notices")
    return form_page(
        request,
        form,
        "inspection/night/notices.html",
        {"notices": Notice.objects.hanging().select_related("by")},
    )


@require_POST
@allow(Ability.RUN_NIGHTS)
def take_down(request: HttpRequest, notice_id: int) -> HttpResponse:
    """Take a notice off the wall."""
    notice = get_object_or_404(Notice, pk=notice_id)
    with refusals_told(request):
        take_notice_down(notice, act=act_of(request))
    return redirect("inspection:notices")


@require_GET
@allow(Ability.LOOK)
def how_we_measure(request: HttpRequest) -> HttpResponse:
    """Say how each thing that a class is asked for is taken."""
    return render(
        request,
        "inspection/night/how_we_measure.html",
        {
            "notices": notices_now(NoticeKind.HOW_WE_MEASURE),
            "sheets": [
                (sheet, [(one, _picture(one.quantity)) for one in sheet.lines])
                for sheet in how_sheets_of_the_club()
            ],
        },
    )


def _picture(quantity: Quantity) -> SafeString:
    drawn = draw_where_to_measure(quantity.picture, column=quantity.columns[0])
    return mark_safe(drawn)  # noqa: S308


@require_GET
@allow(Ability.LOOK)
def blank(request: HttpRequest, night_id: int) -> HttpResponse:
    """Print an empty measuring sheet a class, for when all else fails."""
    night = get_object_or_404(RaceNight, pk=night_id)
    return render(
        request,
        "inspection/night/blank_sheets.html",
        {"night": night, "sheets": blank_sheets(night)},
    )


@require_GET
@allow(Ability.SEE_EVERY_CAR)
def prints(request: HttpRequest, night_id: int) -> HttpResponse:
    """Print every sealed sheet of a night, a page each."""
    night = get_object_or_404(RaceNight, pk=night_id)
    return render(
        request,
        "inspection/night/prints.html",
        {"night": night, "prints": load_prints(night)},
    )
