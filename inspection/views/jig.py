"""The jig sheet: what to set up before soldering, and what to check after."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from inspection.access import cars_seen_by
from inspection.actions.jigs import save_jig
from inspection.compute.jig import BuildCheck, JigSheet, after_soldering, jig_sheet
from inspection.drawing.jig import JigPicture, describe_jig, draw_jig
from inspection.drawing.sizes.pictures import drawings_of
from inspection.forms.jig import JigForm
from inspection.forms.pick import OneCarForm
from inspection.loaders.cars.addresses import only_car_called
from inspection.loaders.fit.cars import CarNow, load_cars
from inspection.loaders.jig import jig_figures, last_jig
from inspection.words.jig import set_up_words
from inventory.access import allow, open_to_all, signed_in, visitor
from inventory.compute.roles import Ability
from inventory.models import Person
from inventory.views.acts import act_of


@require_GET
@open_to_all
def jig_sheet_page(request: HttpRequest) -> HttpResponse:
    """Work out a jig sheet from what is typed; a car's own figures stand ready."""
    person = visitor(request)
    car = _car(request)
    car_form = _car_form(request, person, car)
    context: dict[str, Any] = {
        "person": person,
        "car_form": car_form,
        "keep_form": _keep_form(person, car),
        "car": car,
        **_kept(car),
        "today": timezone.localdate(),
        "drawings": drawings_of(JigForm.base_fields),
    }
    if "jig_tyre" not in request.GET:
        context["form"] = JigForm(initial=jig_figures(car) if car else None)
        status = 422 if car_form and car_form.errors else 200
        return render(request, "inspection/jig/jig_sheet.html", context, status=status)
    form = JigForm(request.GET)
    sheet = _sheet(form)
    context |= {"form": form} if sheet is None else _worked_out(form, sheet)
    status = 422 if sheet is None else 200
    return render(request, "inspection/jig/jig_sheet.html", context, status=status)


@require_POST
@allow(Ability.LOOK)
def save(request: HttpRequest) -> HttpResponse:
    """Keep a jig sheet with a car."""
    text, form = request.POST.get("car", ""), JigForm(request.POST)
    car = only_car_called(cars_seen_by(signed_in(request)), text)
    if car is None or _sheet(form) is None:
        missing = _("There is no car “%(text)s” for you to keep it with.")
        wrong = [str(error) for errors in form.errors.values() for error in errors]
        messages.error(request, " ".join(wrong) or missing % {"text": text})
        typed = {} if wrong else form.typed()
        return redirect(f"{reverse('inspection:jig_sheet')}?{urlencode(typed)}")
    save_jig(car, form.typed(), act=act_of(request))
    messages.success(request, _("Kept with car %(car)s.") % {"car": car})
    query = urlencode(form.typed() | {"car": car.tag})
    return redirect(f"{reverse('inspection:jig_sheet')}?{query}")


def _car(request: HttpRequest) -> CarNow | None:
    person, text = visitor(request), request.GET.get("car", "")
    if person is None or not text:
        return None
    car = only_car_called(cars_seen_by(person), text)
    if car is None:
        return None
    (car_now,) = load_cars(cars_seen_by(person).filter(pk=car.pk))
    return car_now


def _car_form(
    request: HttpRequest, person: Person | None, car: CarNow | None
) -> OneCarForm | None:
    """Ask whose figures to take; nothing of somebody who has no car to see."""
    if person is None or not cars_seen_by(person).exists():
        return None
    is_asked = request.GET.get("car") and "jig_tyre" not in request.GET
    return OneCarForm(
        request.GET if is_asked else None,
        cars=cars_seen_by(person),
        label=_("Take the figures of a car"),
        initial={"car": car.car.called if car else ""},
    )


def _keep_form(person: Person | None, car: CarNow | None) -> OneCarForm | None:
    if person is None or not cars_seen_by(person).exists():
        return None
    return OneCarForm(
        cars=cars_seen_by(person),
        label=_("Keep this sheet with"),
        initial={"car": car.car.called if car else ""},
        auto_id="keep_%s",
    )


def _kept(car: CarNow | None) -> dict[str, Any]:
    last = last_jig(car.car) if car else None
    if car is None or last is None:
        return {}
    query = last.typed | {"car": car.car.tag}
    return {"last": last, "last_query": urlencode(query)}


def _sheet(form: JigForm) -> JigSheet | None:
    """Work the sheet out; what cannot be is said on the form."""
    return jig_sheet(form.set_up()) if form.is_valid() else None


def _worked_out(form: JigForm, sheet: JigSheet) -> dict[str, Any]:
    set_up = form.set_up()
    picture = JigPicture(
        jig_tyre_diameter_mm=set_up.jig_tyre_diameter_mm,
        can_height_mm=set_up.can_height_mm,
        spacer_mm=sheet.spacer_mm,
        motor_lift_mm=set_up.motor_lift_mm,
        axle_offset_mm=set_up.axle_offset_mm,
    )
    checks = {row.check: row for row in after_soldering(form.chassis(sheet))}
    return {
        "form": form,
        "typed": form.typed(),
        "set_up": set_up,
        "sheet": sheet,
        "advice": set_up_words(sheet),
        # On paper what was not read yet has a line to be written on.
        "checks": [(check, checks.get(check)) for check in BuildCheck],
        "picture": mark_safe(draw_jig(picture)),  # noqa: S308
        "picture_words": describe_jig(picture),
    }
