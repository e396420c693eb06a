"""A car's sizes: whatever is to be known of it, at one place."""

from collections.abc import Mapping, Sequence
from typing import Final

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods

from inspection.access import cars_seen_by
from inspection.actions.cars import TakenWith
from inspection.actions.fit.on_car import may_change_parts
from inspection.actions.fit.sizes import store_sizes
from inspection.compute.fit import NeedKind
from inspection.drawing.sizes.pictures import drawings_of
from inspection.drawing.sizes.table import View, view_of
from inspection.forms.cars.sizes import SizesForm, unit_of
from inspection.loaders.cars.on_car import slug_of
from inspection.loaders.cars.sizes import Known, Question, questions_of, typed_needs
from inspection.loaders.fit.cars import load_cars
from inspection.views.cars.addresses import at_its_tag
from inspection.views.cars.garage import car_of
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.loaders.gauges import load_gauges
from inventory.views.acts import act_of, form_page
from inventory.views.addresses import way_back


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
@at_its_tag
def sizes(request: HttpRequest, tag: str) -> HttpResponse:
    """Store a car's sizes: its owner's work, or a scrutineer's."""
    car, act = car_of(request, tag), act_of(request)
    (now,) = load_cars(cars_seen_by(signed_in(request)).filter(pk=car.pk))
    questions = questions_of(now)
    form = SizesForm(
        request.POST or None,
        sizes=typed_needs(questions),
        gauges=load_gauges(act.at),
    )
    if form.is_valid():
        gauge = form.chosen_gauge
        taken = (
            TakenWith(gauge_mode=gauge.mode, gauge_check=gauge.check) if gauge else None
        )
        with form.refusing():
            stored = store_sizes(
                car, form.columns(), form.room(), taken_with=taken, act=act
            )
            sentence = ngettext(
                "%(count)d size stored.", "%(count)d sizes stored.", stored
            )
            messages.success(request, sentence % {"count": stored})
            return redirect(way_back(request) or reverse("inspection:car", args=[tag]))
    return form_page(
        request,
        form,
        "inspection/cars/sizes.html",
        {
            "car": car,
            "back": way_back(request),
            "may_change": may_change_parts(car, act.by),
            "questions": questions,
            "regions": _regions(questions, form),
            "of_parts": _of_parts(questions),
            "drawings": drawings_of(form.fields),
        },
    )


#: What is on none of the drawings is counted, weighed or chosen.
_REGIONS: Final[Mapping[View | None, str | Promise]] = {
    View.BEHIND: gettext_lazy("Rear axle, seen from behind"),
    View.ABOVE: gettext_lazy("Drive and front axle, seen from above"),
    View.SIDE: gettext_lazy("Along the car"),
    None: gettext_lazy("Counted, weighed, chosen"),
}

_OF_A_NUMBER: Final = "+-−.,0123456789"


def _regions(
    questions: Sequence[Question], form: SizesForm
) -> list[tuple[str | Promise, list[dict[str, object]]]]:
    """Give what is typed, region by region; what is not known yet stands first."""
    typed = [one for each in questions for one in each.sizes if one.is_typed]
    regions = [
        (title, [_row(one, form) for one in typed if view_of(one.need.name) is view])
        for view, title in _REGIONS.items()
    ]
    return [
        (title, sorted(rows, key=lambda row: bool(row["now"])))
        for title, rows in regions
        if rows
    ]


def _row(size: Known, form: SizesForm) -> dict[str, object]:
    unit, text = unit_of(size), size.text
    # What a number was typed without is the unit beside its field.
    if text and size.need.kind is NeedKind.ROOM and not text.strip(_OF_A_NUMBER):
        text = f"{text} {unit}"
    now = _("now %(text)s") % {"text": text} if text else ""
    return {"field": form[size.need.name], "unit": unit, "now": now}


def _of_parts(questions: Sequence[Question]) -> list[dict[str, object]]:
    """Give what is entered with the part that sits on the car."""
    return [
        {"size": one, "slug": slug_of(one.need.position) if one.need.position else ""}
        for each in questions
        for one in each.sizes
        if not one.is_typed
    ]
