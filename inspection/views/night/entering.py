"""Entering cars: one, many at once, one's own, whoever stands at the desk."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from inspection.actions.night.entries import (
    Filled,
    copy_entries,
    enter_at_desk,
    enter_class,
    enter_own_car,
    not_here,
    take_own_back,
)
from inspection.actions.race_nights import enter_car
from inspection.forms.night.entering import DeskForm, FillForm, OwnCarForm
from inspection.forms.night.nights import EnterCarForm
from inspection.loaders.night.mine import is_own_entry
from inspection.models import Entry, RaceNight
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.forms.base import PageForm
from inventory.views.acts import act_of, form_page, refusals_told


@require_http_methods(["GET", "POST"])
@allow(Ability.INSPECT_CARS)
def enter(request: HttpRequest, night_id: int) -> HttpResponse:
    """Enter a car in a class of the night, also late."""
    night = get_object_or_404(RaceNight, pk=night_id)
    form = EnterCarForm(request.POST or None, night=night)
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            enter_car(
                night,
                cleaned["car"],
                race_class=cleaned["race_class"],
                driver=form.who_drives(),
                number=cleaned["number"],
                act=act_of(request),
            )
            return redirect("inspection:night", night_id=night.pk)
    return _page(request, "enter_car", night, form)


@require_http_methods(["GET", "POST"])
@allow(Ability.INSPECT_CARS)
def fill(request: HttpRequest, night_id: int) -> HttpResponse:
    """Enter the cars of another night, or all of a class."""
    night = get_object_or_404(RaceNight, pk=night_id)
    form = FillForm(request.POST or None, night=night)
    if form.is_valid():
        chosen = form.chosen
        with form.refusing():
            if isinstance(chosen, RaceNight):
                filled = copy_entries(night, chosen, act=act_of(request))
            else:
                filled = enter_class(night, chosen, act=act_of(request))
            messages.success(request, _what_came(filled))
            return redirect("inspection:night", night_id=night.pk)
    return _page(request, "fill_night", night, form)


def _what_came(filled: Filled) -> str:
    sentence = ngettext(
        "%(n)d car is entered.", "%(n)d cars are entered.", filled.entered
    ) % {"n": filled.entered}
    if filled.left_out:
        sentence += " " + _("Left out: %(which)s.") % {
            "which": "; ".join(filled.left_out)
        }
    return sentence


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
def own_car(request: HttpRequest, night_id: int) -> HttpResponse:
    """Enter a car of one's own, until the list closes."""
    night = get_object_or_404(RaceNight, pk=night_id)
    form = OwnCarForm(request.POST or None, night=night, person=signed_in(request))
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            entry = enter_own_car(
                night,
                cleaned["car"],
                race_class=cleaned["race_class"],
                number=cleaned["number"],
                act=act_of(request),
            )
            messages.success(request, _entered(entry))
            return redirect("inspection:night", night_id=night.pk)
    closed = night.closed_at is not None or night.is_late_at(timezone.now())
    return _page(request, "own_car", night, form, is_closed=closed)


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
def own_back(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Ask whether a car of one's own is taken off the list again, and do it."""
    entry = get_object_or_404(
        Entry.objects.select_related("car__owner", "night"), pk=entry_id
    )
    if request.method == "POST" or not is_own_entry(entry, signed_in(request)):
        with refusals_told(request):
            take_own_back(entry.pk, act=act_of(request))
            messages.success(
                request, _("Car %(number)s is off the list.") % {"number": entry.number}
            )
        return redirect("inspection:mine")
    return render(
        request,
        "inspection/night/reason.html",
        {
            "entry": entry,
            "form": PageForm(),
            "heading": _("Take car %(number)s back") % {"number": entry.number},
            "explanation": _(
                "It does not race on %(night)s. Until the list closes you may enter "
                "it again."
            )
            % {"night": entry.night},
            "button": _("Take it back"),
        },
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.INSPECT_CARS)
def desk(request: HttpRequest, night_id: int) -> HttpResponse:
    """Enter whoever stands at the desk, then the next one."""
    night = get_object_or_404(RaceNight, pk=night_id)
    form = DeskForm(request.POST or None, night=night)
    if form.is_valid():
        with form.refusing():
            entry = enter_at_desk(night, form.at_the_desk(), act=act_of(request))
            messages.success(request, _entered(entry))
            return redirect("inspection:desk", night_id=night.pk)
    return _page(request, "desk", night, form)


def _entered(entry: Entry) -> str:
    return _("Entered: %(car)s in %(race_class)s, %(driver)s drives.") % {
        "car": entry.called,
        "race_class": entry.race_class,
        "driver": entry.driver,
    }


@require_POST
@allow(Ability.INSPECT_CARS)
def absent(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Note that a car was called and was not there."""
    entry = get_object_or_404(Entry, pk=entry_id)
    with refusals_told(request):
        not_here(entry_id, act=act_of(request))
    return redirect("inspection:night", night_id=entry.night_id)


def _page(
    request: HttpRequest, page: str, night: RaceNight, form: PageForm, **said: object
) -> HttpResponse:
    return form_page(
        request,
        form,
        f"inspection/night/{page}.html",
        {"night": night, **said},
    )
